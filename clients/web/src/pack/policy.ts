// What a gate accepts at a moment: dated versions of its policy, as `sellion-gate` and the server read them.
import { micros } from "./moments";

export interface Accepts {
  respirator_id?: string;
  facepiece?: string;
  filter_class?: string;
  until?: string | null;
}

/** One dated version of a gate's policy. */
export interface PolicyVersion {
  id: string;
  effective_from: string;
  recorded_at: string;
  accepts: Accepts[];
  none_needed: boolean;
  none_needed_until: string | null;
  knowledge_age_max_seconds: number;
  fallback: string;
  leads: string[] | null;
}

/** A respirator that some version accepts. */
export interface Listed {
  respirator: string;
  facepiece: string;
  filter_class: string;
  retired_at: string | null;
  /** As printed badges name it. */
  number: number;
  name: string;
}

/** What a version comes to. */
export interface Policy {
  accepted: string[];
  noneNeeded: boolean;
  ageMaxSeconds: number;
  fallback: string;
}

/** The version in force at a moment, in microseconds. */
export function inForce(versions: readonly PolicyVersion[], at: number): PolicyVersion | undefined {
  const begun = versions.filter(version => micros(version.effective_from) <= at);
  return begun.sort(byRank).at(-1);
}

/** The version that comes next. */
export function coming(versions: readonly PolicyVersion[], at: number): PolicyVersion | undefined {
  const next = Math.min(...versions.map(one => micros(one.effective_from)).filter(from => from > at));
  return Number.isFinite(next) ? inForce(versions, next) : undefined;
}

/** Of two versions for the same moment the one recorded last counts. */
function byRank(one: PolicyVersion, other: PolicyVersion): number {
  return (
    micros(one.effective_from) - micros(other.effective_from) ||
    micros(one.recorded_at) - micros(other.recorded_at) ||
    (one.id < other.id ? -1 : 1)
  );
}

/** What a version comes to at a moment; nothing where nothing of it holds any more. */
export function comesTo(version: PolicyVersion, listed: readonly Listed[], at: number): Policy | undefined {
  const noneNeeded = version.none_needed && isOpen(version.none_needed_until, at);
  const lines = version.accepts.filter(line => isOpen(line.until, at));
  if (!noneNeeded && lines.length === 0) return undefined;
  const accepted = lines.flatMap(line =>
    line.respirator_id
      ? [line.respirator_id]
      : listed.filter(one => isOfClass(line, one, at)).map(one => one.respirator),
  );
  return {
    accepted: [...new Set(accepted)],
    noneNeeded,
    ageMaxSeconds: version.knowledge_age_max_seconds,
    fallback: version.fallback,
  };
}

const isOpen = (until: string | null | undefined, at: number): boolean => !until || at < micros(until);

/** A respirator marked `P100/OV` is of the classes P100 and OV. */
function isOfClass(line: Accepts, one: Listed, at: number): boolean {
  const marked = words(one.filter_class);
  return (
    isOpen(one.retired_at, at) &&
    (!line.facepiece || line.facepiece === one.facepiece) &&
    words(line.filter_class ?? "").every(word => marked.includes(word))
  );
}

const words = (text: string): string[] => text.toLowerCase().match(/[\p{Alphabetic}\p{N}]+/gu) ?? [];
