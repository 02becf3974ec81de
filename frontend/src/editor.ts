// Loaded on the page where the record is edited on the map.
import { AboutChosen } from "./elements/about_chosen.ts";
import { BulkForm } from "./elements/bulk_form.ts";
import { ConflictRows } from "./elements/conflict_rows.ts";
import { EditBar } from "./elements/edit_bar.ts";
import { EditMap } from "./elements/edit_map.ts";
import { EditState } from "./elements/edit_state.ts";
import { EditTools } from "./elements/edit_tools.ts";
import { GroundEditor } from "./elements/ground_editor.ts";
import { PastRevisions } from "./elements/past_revisions.ts";
import { RowTable } from "./elements/row_table.ts";
import { SaveForm } from "./elements/save_form.ts";
import { SpotAnswer } from "./elements/spot_answer.ts";

customElements.define("ground-editor", GroundEditor); // first: the others look for its work
customElements.define("edit-tools", EditTools);
customElements.define("edit-map", EditMap);
customElements.define("edit-bar", EditBar);
customElements.define("edit-state", EditState);
customElements.define("save-form", SaveForm);
customElements.define("conflict-rows", ConflictRows);
customElements.define("row-table", RowTable);
customElements.define("bulk-form", BulkForm);
customElements.define("about-chosen", AboutChosen);
customElements.define("past-revisions", PastRevisions);
customElements.define("spot-answer", SpotAnswer);
