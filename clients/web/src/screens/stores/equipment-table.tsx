import { to } from "../../app/screens";
import { Tag } from "../../kit/answer";
import { Table } from "../../kit/table";
import { stores as words } from "../../words/stores";
import { type Equipment, EQUIPMENT_TONES, equipmentState } from "./names";

interface Props {
  caption: string;
  rows: readonly Equipment[];
  /** Where each is, too: not where all are at one place. */
  placed?: boolean;
}

/** Nebulizers and hoods by their labels, and whether they can be used. */
export function EquipmentTable({ caption, rows, placed }: Props) {
  const place = {
    title: words.place(),
    cell: (one: Equipment) => one.place?.name ?? words.nobody_said(),
  };
  return (
    <Table
      caption={caption}
      rows={rows}
      keyOf={one => one.id}
      columns={[
        {
          title: words.label(),
          cell: one => (
            <a href={to(`/stores/equipment/${one.id}`)}>
              {words[`kind_${one.kind}`]()} {one.label}
            </a>
          ),
        },
        ...(placed ? [place] : []),
        {
          title: words.state(),
          cell: one => <Tag tone={EQUIPMENT_TONES[one.state]}>{equipmentState(one)}</Tag>,
        },
      ]}
    />
  );
}
