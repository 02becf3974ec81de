// The film of a night: a slider and a button drive a course-map from frame to frame.
// Attributes: src (figures of the frames), map (id of the course-map), at (first frame).
import { fetchedDocument } from "../map/fetching.ts";
import { nextFrame, FRAME_MS, type Figures } from "../film.ts";

export class NightFilm extends HTMLElement {
  #frames: readonly Figures[] = [];
  #timer: number | undefined;

  connectedCallback(): void {
    this.addEventListener("input", this.#scrubbed);
    this.addEventListener("click", this.#clicked);
    this.addEventListener("keydown", this.#key);
    this.classList.add("at-once");
    fetchedDocument<{ frames: readonly Figures[] }>(this.getAttribute("src") ?? "")
      .then(({ frames }) => this.#ready(frames))
      .catch(() => undefined); // the page's own figures stay
  }

  disconnectedCallback(): void {
    this.#pause();
    this.removeEventListener("input", this.#scrubbed);
    this.removeEventListener("click", this.#clicked);
    this.removeEventListener("keydown", this.#key);
  }

  get #slider(): HTMLInputElement {
    return this.querySelector("input[type=range]") as HTMLInputElement;
  }

  get #button(): HTMLButtonElement {
    return this.querySelector(".film-play") as HTMLButtonElement;
  }

  #ready(frames: readonly Figures[]): void {
    if (!this.isConnected) return;
    this.#frames = frames;
    this.#button.hidden = false;
    this.#label();
    this.#show(Number(this.#slider.value));
    this.setAttribute("ready", "");
  }

  /** Whoever wants no motion gets one frame a press. */
  get #still(): boolean {
    return matchMedia("(prefers-reduced-motion: reduce)").matches;
  }

  #label(): void {
    const playing = this.#timer !== undefined;
    this.#button.textContent = this.#still ? "Next" : playing ? "Pause" : "Play";
    this.#button.setAttribute("aria-pressed", String(playing));
  }

  #show(at: number): void {
    const figures = this.#frames[at];
    if (!figures) return;
    this.#slider.value = String(at);
    this.#slider.setAttribute("aria-valuetext", `${figures.clock}, ${figures.flow}`);
    for (const place of this.querySelectorAll<HTMLElement>("[data-figure]")) {
      place.textContent = String(figures[place.dataset["figure"] as keyof Figures]);
    }
    for (const link of this.querySelectorAll<HTMLAnchorElement>("[data-clock]")) {
      link.href = `${link.dataset["clock"]}${encodeURIComponent(figures.clock)}`;
    }
    this.querySelector(".gauge-now")?.setAttribute("width", String(100 * figures.share));
    document.getElementById(this.getAttribute("map") ?? "")?.setAttribute("show", figures.name);
  }

  #step(): void {
    this.#show(nextFrame(Number(this.#slider.value), this.#frames.length));
  }

  #pause(): void {
    clearInterval(this.#timer);
    this.#timer = undefined;
  }

  readonly #scrubbed = (): void => this.#show(Number(this.#slider.value));

  readonly #clicked = (event: Event): void => {
    if ((event.target as Element).closest(".film-play")) this.#toggle();
  };

  readonly #key = (event: KeyboardEvent): void => {
    if (event.key !== " " || event.target !== this.#slider) return;
    event.preventDefault();
    this.#toggle();
  };

  #toggle(): void {
    if (this.#still) this.#step();
    else if (this.#timer !== undefined) this.#pause();
    else this.#timer = window.setInterval(() => this.#step(), FRAME_MS);
    this.#label();
  }
}
