// The look of charts, from the page's colours.
import type { Config } from "vega-embed";

const FONT = "system-ui, sans-serif";

/** Vega's configuration; `colour` gives a custom property of the page, `names` the series in order. */
export function chartConfig(names: readonly string[], colour: (name: string) => string): Config {
  const label = { labelColor: colour("muted"), titleColor: colour("muted"), labelFont: FONT, titleFont: FONT };
  return {
    background: "transparent",
    font: FONT,
    view: { stroke: null },
    axis: {
      ...label,
      labelFontSize: 12,
      titleFontSize: 12,
      titleFontWeight: "normal",
      gridColor: colour("line"),
      domainColor: colour("line"),
      tickColor: colour("line"),
    },
    range: { category: names.map((name) => colour(`kind-${name}`)) },
    rule: { color: colour("ink") },
    text: { color: colour("ink"), font: FONT, fontSize: 12 },
  } as Config;
}
