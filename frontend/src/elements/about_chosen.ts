// The sheet of the one thing that is chosen: its row from the server, and its history.
import { shownValue } from "../edit/rows.ts";
import type { PastChange } from "../edit/server.ts";
import { made } from "../made.ts";
import { fetchedFragment } from "../map/fetching.ts";
import { WorkPart } from "./work_part.ts";

export class AboutChosen extends WorkPart {
  #subject = "";
  #revision: string | null = null;

  protected show(): void {
    const [one = "", ...more] = this.work.selection;
    const subject = more.length > 0 ? "" : one;
    if (subject === this.#subject && this.work.revision === this.#revision) return;
    this.#subject = subject;
    this.#revision = this.work.revision;
    this.replaceChildren();
    if (subject) this.#load(subject).catch((problem: Error) => this.work.say(problem.message));
  }

  async #load(subject: string): Promise<void> {
    const sheet = made("div");
    if (this.work.row(subject)?.state === "new") return this.replaceChildren(made("p", {}, "This is new; it has its sheet once it is saved."));
    sheet.innerHTML = await fetchedFragment(this.getAttribute("sum") ?? "", subject);
    const past = await this.work.server.history(subject);
    if (this.#subject === subject) this.replaceChildren(sheet, this.#history(past));
  }

  #history(past: readonly PastChange[]): HTMLElement {
    const items = past.map((change) => made("li", {},
      made("b", {}, change.who), ` ${change.time}, revision ${change.revision}: ${change.why}`,
      made("ul", {}, ...Object.entries(change.columns).map(([column, [before, after]]) =>
        made("li", {}, `${column.replaceAll("_", " ")}: ${shownValue(before)} → ${shownValue(after)}`)))));
    const words = items.length === 0 ? "It has not been changed since it was brought in." : "";
    return made("section", { class: "past" }, made("h3", {}, "History"), words ? made("p", {}, words) : made("ol", {}, ...items));
  }
}
