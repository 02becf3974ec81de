// What the parts of the editor share: they find the work of the page, and follow it.
import type { Work } from "../edit/work.ts";
import type { GroundEditor } from "./ground_editor.ts";

export abstract class WorkPart extends HTMLElement {
  get work(): Work {
    return (this.closest("ground-editor") as GroundEditor).work;
  }

  connectedCallback(): void {
    this.start();
    this.work.addEventListener("changed", this.#changed);
    this.show();
  }

  disconnectedCallback(): void {
    (document.querySelector("ground-editor") as GroundEditor | null)?.work.removeEventListener("changed", this.#changed);
  }

  readonly #changed = (): void => this.show();

  /** Once, before the first time that it is shown. */
  protected start(): void {}

  /** Whenever the work has changed. */
  protected abstract show(): void;
}
