// Bundle the pages' scripts and styles: one entry per kind of page, hashed names, a manifest.
import { build } from "esbuild";
import { mkdir, readdir, rm, writeFile } from "node:fs/promises";
import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL(".", import.meta.url));
const out = join(here, "../src/nightwater/web/static/dist");

await mkdir(out, { recursive: true });
for (const name of await readdir(out)) await rm(join(out, name), { recursive: true });

const result = await build({
  absWorkingDir: here,
  entryPoints: { app: "src/app.ts", map: "src/map.ts", chart: "src/chart.ts", editor: "src/editor.ts", trims: "src/trims.ts", style: "styles/style.css", dark: "styles/dark.css" },
  outdir: out,
  entryNames: "[name]-[hash]",
  assetNames: "[name]-[hash]",
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  metafile: true,
  legalComments: "linked",
  logLevel: "warning",
});

const manifest = {};
for (const [path, made] of Object.entries(result.metafile.outputs)) {
  if (!made.entryPoint) continue;
  const ending = path.endsWith(".css") ? "css" : "js";
  const name = made.entryPoint.replace(/^.*\//, "").replace(/\.[a-z]+$/, "");
  manifest[`${name}.${ending}`] = relative(out, join(here, path));
  if (made.cssBundle) manifest[`${name}.css`] = relative(out, join(here, made.cssBundle));
}
await writeFile(join(out, "manifest.json"), `${JSON.stringify(manifest, null, 1)}\n`);
