import { api, need } from "../../api/client";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { millilitres, number, roughly } from "../../words/format";
import { equipmentWords } from "../../words/equipment";
import { stores as words } from "../../words/stores";

/** Does what was sprayed fit what is gone? What stands out is a question to look into, and no verdict. */
export default function Usage() {
  const usage = useResource("usage", () => need(api.GET("/api/v1/usage")), {
    nouns: ["bottle_movements", "fills", "fill_emptyings", "squeeze_weighings"],
  });
  return (
    <Page title={equipmentWords.usage_title()}>
      <Loaded resource={usage}>
        {({ findings, nebulizers, false_alarms_expected }) => (
          <>
            {findings.length === 0 ? (
              <Notice tone="go" title={equipmentWords.usage_none()} />
            ) : (
              findings.map(one => (
                <Notice key={`${one.kind} ${one.nebulizer ?? one.bottle} ${one.from_fill}`} tone="wait">
                  <p>{one.words}</p>
                  <p class="small">{one.check}</p>
                </Notice>
              ))
            )}
            <p class="soft">{equipmentWords.usage_alarms({ n: roughly(false_alarms_expected) })}</p>
            <Panel title={equipmentWords.usage_nebulizers()}>
              {nebulizers.length === 0 ? (
                <Empty title={equipmentWords.usage_nothing()} />
              ) : (
                <Table
                  caption={equipmentWords.usage_title()}
                  rows={nebulizers}
                  keyOf={one => one.nebulizer}
                  columns={[
                    {
                      title: words.nebulizer(),
                      cell: one => <a href={to(`/stores/equipment/${one.nebulizer}`)}>{one.label}</a>,
                    },
                    { title: equipmentWords.usage_fills(), cell: one => one.fills.length, number: true },
                    {
                      title: equipmentWords.usage_expected(),
                      cell: one => millilitres(one.expected_ul),
                      number: true,
                    },
                    {
                      title: equipmentWords.usage_gone(),
                      cell: one => millilitres(one.gone_ul),
                      number: true,
                    },
                    {
                      title: equipmentWords.usage_squeeze(),
                      cell: one => (
                        <Tag tone={one.squeeze.assumed ? "unknown" : "go"}>
                          {number(Math.round(one.squeeze.ul * 10) / 10)} µl,{" "}
                          {one.squeeze.assumed
                            ? equipmentWords.usage_assumed()
                            : equipmentWords.usage_measured()}
                        </Tag>
                      ),
                    },
                  ]}
                />
              )}
            </Panel>
          </>
        )}
      </Loaded>
    </Page>
  );
}
