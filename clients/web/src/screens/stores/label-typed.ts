import type { Wire } from "../../api/client";

/** What was read from a supplier's label, as it was typed. */
export interface LabelTyped {
  label: string;
  lot: string;
  lotAgain: string;
  expiry: string;
  expiryAgain: string;
  maker: string;
  boxLot: string;
  openedLife: string;
}

export const emptyLabel: LabelTyped = {
  label: "",
  lot: "",
  lotAgain: "",
  expiry: "",
  expiryAgain: "",
  maker: "",
  boxLot: "",
  openedLife: "",
};

/** A scanned label says enough; without one the lot stands there twice, and a solution has its expiry. */
export function labelReady(typed: LabelTyped, solution: boolean): boolean {
  if (typed.label.trim() !== "") return true;
  const twice = typed.lot.trim() !== "" && typed.lotAgain.trim() !== "";
  const ends = (typed.expiry.trim() === "") === (typed.expiryAgain.trim() === "");
  return twice && ends && (!solution || typed.expiry.trim() !== "");
}

/** Only what was said: the server reads the rest from the label. */
export function labelBody(typed: LabelTyped): Partial<Wire<"NewLot">> {
  const said = (text: string) => (text.trim() === "" ? undefined : text.trim());
  const body = {
    label: said(typed.label),
    lot_number: said(typed.lot),
    lot_number_again: said(typed.lotAgain),
    printed_expiry: said(typed.expiry),
    printed_expiry_again: said(typed.expiryAgain),
    maker: said(typed.maker),
    box_lot_number: said(typed.boxLot),
    opened_life_days: said(typed.openedLife) ? Number(typed.openedLife) : undefined,
  };
  return Object.fromEntries(Object.entries(body).filter(([, value]) => value !== undefined));
}
