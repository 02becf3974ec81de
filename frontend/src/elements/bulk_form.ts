// One value for all chosen rows of the table: first what it would change, then the change.
import { FOLLOWS } from "../edit/belongings.ts";
import { idsByTable, type Operation, type Value } from "../edit/operations.ts";
import type { Preview } from "../edit/preview.ts";
import { shownValue, type Column } from "../edit/rows.ts";
import { counted } from "../edit/words.ts";
import { made } from "../made.ts";
import { WorkPart } from "./work_part.ts";

const MOST_SHOWN = 8;

export class BulkForm extends WorkPart {
  readonly #column = made("select", { "aria-label": "Column", change: () => this.#field() });
  readonly #place = made("span");
  readonly #answer = made("div", { "aria-live": "polite", class: "bulk-answer" });
  readonly #title = made("p", { class: "bulk-title" });
  #value: HTMLInputElement | HTMLSelectElement = made("input");
  #table = "";

  protected override start(): void {
    const tried = made("button", {}, "Preview");
    const form = made("form", { class: "row-find", submit: (event) => this.#tried(event) }, made("span", {}, "Set"), this.#column, made("span", {}, "to"), this.#place, tried);
    this.replaceChildren(this.#title, form, this.#answer);
  }

  get #ids(): string[] {
    return idsByTable(this.work.selection).get(this.work.table) ?? [];
  }

  get #columns(): readonly Column[] {
    return this.work.columns().filter((column) => column.kind !== FOLLOWS && column.kind !== "document");
  }

  protected show(): void {
    const count = this.#ids.length;
    this.hidden = count === 0;
    this.#title.textContent = `All ${counted(count, this.work.table)} chosen:`;
    const table = `${this.work.table} ${this.#columns.length}`;
    if (table !== this.#table) {
      this.#table = table;
      this.#column.replaceChildren(...this.#columns.map((column) => made("option", { value: column.name }, column.title)));
      this.#field();
    }
    if (this.hidden) this.#answer.replaceChildren();
  }

  get #chosen(): Column | undefined {
    return this.#columns.find((column) => column.name === this.#column.value);
  }

  #field(): void {
    const column = this.#chosen;
    const choices = column?.kind === "yes_no" ? ["yes", "no"] : column?.choices;
    const number = column?.kind === "number" || column?.kind === "integer";
    const empty = made("option", { value: "" }, "– (missing)");
    this.#value = choices?.length
      ? made("select", { "aria-label": "Value" }, empty, ...choices.map((choice) => made("option", {}, choice)))
      : made("input", { "aria-label": "Value", placeholder: "empty: missing", ...(number ? { type: "number", step: "any" } : { maxlength: "200" }) });
    this.#place.replaceChildren(this.#value, column?.unit ? ` ${column.unit}` : "");
    this.#answer.replaceChildren();
  }

  get #operation(): Operation {
    const [column, text] = [this.#chosen, this.#value.value.trim()];
    const number = column?.kind === "number" || column?.kind === "integer";
    const value: Value = text === "" ? null : number ? Number(text) : column?.kind === "yes_no" ? text === "yes" : text;
    return { op: "set", table: this.work.table, ids: this.#ids, values: { [this.#column.value]: value } };
  }

  #tried(event: Event): void {
    event.preventDefault();
    const operation = this.#operation;
    this.work.tried(operation).then((preview) => this.#answers(operation, preview)).catch((problem: Error) => this.work.say(problem.message));
  }

  #answers(operation: Operation, preview: Preview): void {
    const refused = preview.impossible.find((one) => one.at === this.work.session.done.length);
    const name = this.#column.value;
    const now = new Map(this.work.rows().map((row) => [row.id, row.values[name] ?? null]));
    const value = operation.op === "set" ? (operation.values[name] ?? null) : null;
    const changed = this.#ids.filter((id) => now.get(id) !== value);
    const lines = changed.slice(0, MOST_SHOWN).map((id) => made("li", {}, `${id}: ${shownValue(now.get(id))} → ${shownValue(value)}`));
    const more = changed.length > MOST_SHOWN ? [made("li", {}, `and ${changed.length - MOST_SHOWN} more`)] : [];
    const doubts = preview.findings.slice(0, MOST_SHOWN).map((finding) => made("li", { class: `severity-${finding.severity}` }, `${finding.subject} ${finding.message}`));
    const apply = made("button", { type: "button", class: "main", click: () => this.#apply(operation) }, `Change ${changed.length}`);
    this.#answer.replaceChildren(...(refused ? [made("p", { class: "why-not" }, refused.message)] : [
      made("p", {}, `${changed.length} of ${this.#ids.length} would change.`), made("ul", {}, ...lines, ...more),
      ...(doubts.length > 0 ? [made("p", {}, "What is doubtful then:"), made("ul", {}, ...doubts)] : []), ...(changed.length > 0 ? [apply] : []),
    ]));
  }

  #apply(operation: Operation): void {
    this.#answer.replaceChildren();
    this.work.apply(operation).catch((problem: Error) => this.work.say(problem.message));
  }
}
