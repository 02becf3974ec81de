// The rows of one table beside the map: filtered, sorted, a page at a time. What is chosen here is chosen on the map.
import { chosenWith } from "../edit/deeds.ts";
import { filterOf } from "../edit/filter.ts";
import { paged, shownValue, sorted, type Column, type ShownRow } from "../edit/rows.ts";
import { made } from "../made.ts";
import { WorkPart } from "./work_part.ts";

const HEAD_PX = 48;

export class RowTable extends WorkPart {
  readonly #filter = made("input", { type: "search", "aria-label": "Filter rows", placeholder: "kind=fairway hole=7", maxlength: "200", input: () => this.#again() });
  readonly #tables = made("select", { "aria-label": "Table", change: () => this.#choose() });
  readonly #found = made("p", { class: "found", "aria-live": "polite" });
  readonly #body = made("div", { class: "scroll row-scroll", tabindex: "0", role: "region", "aria-label": "Rows" });
  readonly #pages = made("p", { class: "pages" });
  #sort = { column: "", down: false };
  #page = 0;
  #chosen = "";

  protected override start(): void {
    this.#tables.append(...(this.getAttribute("tables") ?? "heads").split(" ").map((name) => made("option", {}, name)));
    const all = made("button", { type: "button", click: () => this.work.select(this.#rows().map((row) => this.#subject(row))) }, "Choose all found");
    this.replaceChildren(made("div", { class: "row-find" }, this.#tables, this.#filter, all), this.#found, this.#body, this.#pages);
  }

  #again(): void {
    this.#page = 0;
    this.show();
  }

  #choose(): void {
    this.#sort = { column: "", down: false };
    this.#page = 0;
    this.work.showTable(this.#tables.value).catch((problem: Error) => this.work.say(problem.message));
  }

  readonly #subject = (row: ShownRow): string => `${this.work.table}:${row.id}`;

  #rows(): ShownRow[] {
    const rows = this.work.rows();
    const filter = filterOf(this.#filter.value, ["id", ...this.work.columns().map((column) => column.name)]);
    this.#found.textContent = filter.fault ?? "";
    const fitting = filter.fits ? rows.filter((row) => filter.fits(row.values)) : rows;
    if (!filter.fault) this.#found.textContent = `${fitting.length} of ${rows.length} ${this.work.table}`;
    return this.#sort.column ? sorted(fitting, this.#sort.column, this.#sort.down) : fitting;
  }

  protected show(): void {
    this.#followChoice();
    this.#tables.value = this.work.table;
    const rows = this.#rows();
    const { page, pages, rows: shown } = paged(rows, this.#page);
    this.#page = page;
    const columns = this.work.columns().filter((column) => column.kind !== "document");
    this.#body.replaceChildren(made("table", { class: "rows" }, this.#head(columns), made("tbody", {}, ...shown.map((row) => this.#row(row, columns)))));
    const turn = (by: number, words: string): HTMLElement => made("button", { type: "button", class: "quiet", click: () => { this.#page += by; this.show(); } }, words);
    this.#pages.replaceChildren(...(pages > 1 ? [turn(-1, "‹ Before"), ` Page ${page + 1} of ${pages} `, turn(1, "Next ›")] : []));
  }

  /** What was chosen on the map is brought into sight here. */
  #followChoice(): void {
    const chosen = this.work.selection.join(" ");
    if (chosen === this.#chosen) return;
    this.#chosen = chosen;
    const at = this.#rows().findIndex((row) => this.work.selection.includes(this.#subject(row)));
    if (at < 0) return;
    const size = paged(this.#rows(), 0).rows.length;
    this.#page = Math.floor(at / Math.max(1, size));
    requestAnimationFrame(() => this.#scroll());
  }

  /** Scrolls the rows only; the page stays where it is. */
  #scroll(): void {
    const row = this.#body.querySelector<HTMLElement>("tr[data-chosen]");
    if (!row) return;
    const [inside, around] = [row.getBoundingClientRect(), this.#body.getBoundingClientRect()];
    if (inside.top < around.top + HEAD_PX || inside.bottom > around.bottom) this.#body.scrollTop += inside.top - around.top - HEAD_PX;
  }

  #head(columns: readonly Column[]): HTMLElement {
    const sort = (column: string): void => {
      this.#sort = { column, down: this.#sort.column === column && !this.#sort.down };
      this.show();
    };
    const cells = [{ name: "id", title: "id", meaning: "", unit: null }, ...columns].map((column) => {
      const mine = this.#sort.column === column.name;
      const words = column.unit ? `${column.title} [${column.unit}]` : column.title;
      const button = made("button", { type: "button", class: "sort", title: column.meaning ?? "", click: () => sort(column.name) }, words);
      return made("th", { scope: "col", "aria-sort": mine ? (this.#sort.down ? "descending" : "ascending") : "none" }, button);
    });
    return made("thead", {}, made("tr", {}, ...cells));
  }

  #row(row: ShownRow, columns: readonly Column[]): HTMLElement {
    const subject = this.#subject(row);
    const chosen = this.work.selection.includes(subject);
    const toggle = (): void => this.work.select(chosenWith(this.work.selection, [subject], true));
    const box = made("input", { type: "checkbox", checked: chosen, change: toggle, disabled: row.state === "removed" });
    const name = made("th", { scope: "row" }, made("label", {}, box, ` ${row.id}`, row.state ? made("small", {}, ` ${row.state}`) : null));
    const cells = columns.map(({ kind, name: of }) => made("td", { class: kind === "number" ? "number" : "" }, shownValue(row.values[of])));
    return made("tr", { "data-chosen": chosen, class: row.state }, name, ...cells);
  }
}
