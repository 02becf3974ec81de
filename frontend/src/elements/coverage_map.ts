// The turf's map as a picture under the areas' outlines. A tap, or Enter for the middle, asks what falls there. Attributes: ground,
// picture (addresses of documents), ask (the page's address without a spot), panel (id of the answer's place), spot ("x,y"), focus, units.
import { SpotMark, turfLayer, type TurfPicture } from "../map/coverage.ts";
import type { GroundDocument, Place } from "../map/documents.ts";
import { fetchedDocument } from "../map/fetching.ts";
import { onThemeChange, paletteOf } from "../map/palette.ts";
import { askedAt, outlined, placeFrom } from "../map/spots.ts";
import { MapStyles } from "../map/styles.ts";
import { MapView } from "../map/view.ts";

export class CoverageMap extends HTMLElement {
  #view: MapView | undefined;
  #mark: SpotMark | undefined;
  #asked: AbortController | undefined;
  #stop: (() => void)[] = [];

  connectedCallback(): void {
    this.#stop.push(onThemeChange(() => this.#restyle()));
    this.addEventListener("keydown", this.#keyed);
    this.#load().catch((problem: Error) => this.#say(problem.message));
  }

  disconnectedCallback(): void {
    for (const stop of this.#stop.splice(0)) stop();
    this.removeEventListener("keydown", this.#keyed);
    this.#asked?.abort();
    this.#view?.close();
    this.#view = undefined;
  }

  async #load(): Promise<void> {
    const ground = await fetchedDocument<GroundDocument>(this.getAttribute("ground") ?? "");
    if (!this.isConnected) return;
    const frame = this.querySelector<HTMLElement>(".map-frame") ?? this;
    frame.replaceChildren();
    this.#view = new MapView(frame, ground, this.getAttribute("units") === "us" ? "us" : "metric");
    this.#view.withPipes(false);
    this.#view.withThrows(false);
    this.#mark = new SpotMark(paletteOf(this));
    this.#view.add(this.#mark.layer);
    this.#view.onPlace((place) => this.#ask(place));
    this.#restyle();
    this.#look();
    await this.#showPicture();
    this.setAttribute("ready", "");
  }

  async #showPicture(): Promise<void> {
    const picture = await fetchedDocument<TurfPicture>(this.getAttribute("picture") ?? "");
    if (picture.address) this.#view?.add(turfLayer(picture.address, picture.extent_m));
  }

  #look(): void {
    const [spot, focus] = [placeFrom(this.getAttribute("spot")), this.getAttribute("focus")];
    if (!spot) return void (focus && this.#view?.choose(focus));
    this.#mark?.at(spot);
    this.#view?.goTo(spot);
    this.#sayAnswer();
  }

  #restyle(): void {
    if (this.#view) this.#view.restyle(new MapStyles(paletteOf(this), outlined(this.#view.ground)));
  }

  readonly #keyed = (event: KeyboardEvent): void => {
    const [x = NaN, y = NaN] = this.#view?.map.getView().getCenter() ?? [];
    if (event.key === "Enter" && event.target === this.querySelector(".map-frame")) this.#ask([x, y]);
  };

  #ask(place: Place): void {
    this.#mark?.at(place);
    this.#say("…");
    this.#answer(place).catch((problem: Error) => problem.name !== "AbortError" && this.#say(problem.message));
  }

  async #answer(place: Place): Promise<void> {
    this.#asked?.abort();
    this.#asked = new AbortController();
    const address = askedAt(this.getAttribute("ask") ?? "", location.href, place);
    const headers = { "HX-Request": "true", "HX-Request-Type": "partial" };
    const answer = await fetch(address, { headers, signal: this.#asked.signal });
    if (!answer.ok) throw new Error(`The answer did not come (${answer.status}). Load the page again.`);
    if (this.#panel) this.#panel.innerHTML = await answer.text();
    this.#sayAnswer();
    history.replaceState(history.state, "", address);
  }

  get #panel(): HTMLElement | null {
    return document.getElementById(this.getAttribute("panel") ?? "");
  }

  #sayAnswer(): void {
    this.#say(this.#panel?.querySelector("[data-short]")?.textContent?.trim() ?? "");
  }

  #say(text: string): void {
    const note = this.querySelector(".map-note");
    if (note && text) note.textContent = text;
  }
}
