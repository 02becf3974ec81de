// Asks why, once for everything since the last save; and asks before giving it up.
import { operationWords } from "../edit/words.ts";
import { made } from "../made.ts";
import { WorkPart } from "./work_part.ts";

export class SaveForm extends WorkPart {
  readonly #why = made("textarea", { rows: "3", required: true, maxlength: "500", name: "why", placeholder: "Surveyed again after the works on hole 7" });
  readonly #list = made("ol", { class: "edit-done" });
  readonly #save = made("dialog", { "aria-label": "Save" },
    made("form", { method: "dialog", submit: (event) => this.#sent(event) },
      made("h2", {}, "Save as one revision"), this.#list,
      made("label", {}, "Why? It stands in the history of every row.", this.#why),
      made("p", { class: "deeds" }, made("button", { class: "main" }, "Save"), this.#closer("Not yet"))));
  readonly #discard = made("dialog", { "aria-label": "Discard" },
    made("h2", {}, "Give up everything since the last save?"),
    made("p", { class: "deeds" }, made("button", { type: "button", click: () => this.#given() }, "Discard"), this.#closer("Keep it")));

  /** The reason given last; a conflict is saved with the same one. */
  get why(): string {
    return this.#why.value;
  }

  #closer(words: string): HTMLButtonElement {
    return made("button", { type: "button", click: (event) => (event.target as Element).closest("dialog")?.close() }, words);
  }

  protected override start(): void {
    this.replaceChildren(this.#save, this.#discard);
    this.closest("ground-editor")?.addEventListener("form-wanted", this.#wanted);
  }

  override disconnectedCallback(): void {
    super.disconnectedCallback();
    document.querySelector("ground-editor")?.removeEventListener("form-wanted", this.#wanted);
  }

  readonly #wanted = (event: Event): void => {
    if ((event as CustomEvent<string>).detail === "discard") return this.#discard.showModal();
    this.#list.replaceChildren(...this.work.session.done.map((one) => made("li", {}, operationWords(one, this.work.units))));
    this.#save.showModal();
    this.#why.focus();
  };

  #sent(event: Event): void {
    event.preventDefault();
    this.#save.close();
    const saved = this.work.save(this.#why.value.trim());
    saved.catch((problem: Error) => this.work.say(problem.message));
  }

  #given(): void {
    this.#discard.close();
    this.work.discard().catch((problem: Error) => this.work.say(problem.message));
  }

  protected show(): void {
    if (this.work.revision !== null && this.work.session.done.length === 0) this.#why.value = "";
  }
}
