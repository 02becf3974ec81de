// Loaded on pages with a map.
import "ol/ol.css";
import { CourseMap } from "./elements/course_map.ts";
import { CoverageMap } from "./elements/coverage_map.ts";
import { GroundPictures } from "./elements/ground_pictures.ts";
import { PlaceImage } from "./elements/place_image.ts";
import { ShutOffMap } from "./elements/shut_off_map.ts";

customElements.define("course-map", CourseMap);
customElements.define("coverage-map", CoverageMap);
customElements.define("ground-pictures", GroundPictures);
customElements.define("place-image", PlaceImage);
customElements.define("shut-off-map", ShutOffMap);
