// Radio buttons that say what the map is coloured by. Without script they are part of a
// form with a button; with it the map follows at once and the address keeps the choice.
import { withParameter } from "../addresses.ts";

export class ColourBy extends HTMLElement {
  connectedCallback(): void {
    this.addEventListener("change", this.#changed);
    this.classList.add("at-once");
  }

  disconnectedCallback(): void {
    this.removeEventListener("change", this.#changed);
  }

  readonly #changed = (event: Event): void => {
    const radio = event.target as HTMLInputElement;
    const map = document.getElementById(this.getAttribute("for") ?? "");
    map?.setAttribute("show", radio.value);
    for (const legend of document.querySelectorAll<HTMLElement>("[data-legend]")) {
      legend.hidden = legend.dataset["legend"] !== radio.value;
    }
    history.replaceState(history.state, "", withParameter(location.href, radio.name, radio.value));
  };
}
