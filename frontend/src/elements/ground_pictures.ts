// Which pictures lie beneath the areas of a map (`for`), and how opaque they are.
export class GroundPictures extends HTMLElement {
  connectedCallback(): void {
    this.addEventListener("input", this.#changed);
    this.#changed();
  }

  disconnectedCallback(): void {
    this.removeEventListener("input", this.#changed);
  }

  readonly #changed = (): void => {
    const map = document.getElementById(this.getAttribute("for") ?? "");
    const boxes = this.querySelectorAll<HTMLInputElement>("input[name=picture]:checked");
    const share = this.querySelector<HTMLInputElement>("input[name=opacity]")?.valueAsNumber ?? 100;
    map?.setAttribute("opacity", String(share / 100));
    map?.setAttribute("pictures", [...boxes].map((box) => box.value).join(" "));
  };
}
