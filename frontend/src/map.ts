// Loaded on pages with a map.
import "ol/ol.css";
import { CourseMap } from "./elements/course_map.ts";
import { CoverageMap } from "./elements/coverage_map.ts";
import { GroundPictures } from "./elements/ground_pictures.ts";
import { NightFilm } from "./elements/night_film.ts";
import { PlaceImage } from "./elements/place_image.ts";
import { ShutOffMap } from "./elements/shut_off_map.ts";

customElements.define("course-map", CourseMap);
customElements.define("coverage-map", CoverageMap);
customElements.define("ground-pictures", GroundPictures);
customElements.define("night-film", NightFilm);
customElements.define("place-image", PlaceImage);
customElements.define("shut-off-map", ShutOffMap);
