// Loaded on pages with a chart.
import { FlowChart } from "./elements/flow_chart.ts";

customElements.define("flow-chart", FlowChart);
