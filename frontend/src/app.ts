// Loaded on every page: fragments by htmx, and the small elements that need no library.
import "htmx.org";
import { busyWhileSending } from "./busy.ts";
import { ColourBy } from "./elements/colour_by.ts";

customElements.define("colour-by", ColourBy);
document.addEventListener("submit", busyWhileSending);
