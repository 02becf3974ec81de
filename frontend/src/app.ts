// Loaded on every page: fragments by htmx, and the small elements that need no library.
import "htmx.org";
import { busyWhileSending } from "./busy.ts";
import { ColourBy } from "./elements/colour_by.ts";
import { FileProgress } from "./elements/file_progress.ts";
import { PinTimes } from "./elements/pin_times.ts";

customElements.define("colour-by", ColourBy);
customElements.define("file-progress", FileProgress);
customElements.define("pin-times", PinTimes);
document.addEventListener("submit", busyWhileSending);
