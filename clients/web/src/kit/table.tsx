import type { ComponentChildren } from "preact";

export interface Column<Row> {
  title: string;
  cell: (row: Row) => ComponentChildren;
  number?: boolean;
  /** Holds what can be done with the row; its heading is for those who listen. */
  action?: boolean;
}

interface Props<Row> {
  /** What the table holds, for those who listen. */
  caption: string;
  columns: readonly Column<Row>[];
  rows: readonly Row[];
  keyOf: (row: Row) => string;
}

/** How much room the columns ask for: a number or an action takes half of what words take. */
const roomFor = (columns: readonly { number?: boolean; action?: boolean }[]): number =>
  columns.reduce((room, { number, action }) => room + (number || action ? 0.5 : 1), 0);

/** A table that becomes a list of blocks where its columns have no room. The first column names the row. */
export function Table<Row>({ caption, columns, rows, keyOf }: Props<Row>) {
  return (
    // The roles are written out: shown as blocks, a table would lose them in some browsers.
    <div class="table-room" style={{ "--columns": Math.max(3, roomFor(columns)) }}>
      <table class="table" role="table">
        <caption class="hidden-text">{caption}</caption>
        <thead role="rowgroup">
          <tr role="row">
            {columns.map(column => (
              <th
                key={column.title}
                role="columnheader"
                scope="col"
                class={column.number ? "table-number" : column.action ? "table-action" : ""}
              >
                {column.action ? <span class="hidden-text">{column.title}</span> : column.title}
              </th>
            ))}
          </tr>
        </thead>
        <tbody role="rowgroup">
          {rows.map(row => (
            <tr key={keyOf(row)} role="row">
              {columns.map((column, index) => {
                const Cell = index === 0 ? "th" : "td";
                return (
                  <Cell
                    key={column.title}
                    role={index === 0 ? "rowheader" : "cell"}
                    scope={index === 0 ? "row" : undefined}
                    class={[column.number && "table-number number", column.action && "table-action"]
                      .filter(Boolean)
                      .join(" ")}
                    data-label={column.title}
                  >
                    <span>{column.cell(row)}</span>
                  </Cell>
                );
              })}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
