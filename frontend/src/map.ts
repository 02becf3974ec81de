// Loaded on pages with a map.
import "ol/ol.css";
import { CourseMap } from "./elements/course_map.ts";

customElements.define("course-map", CourseMap);
