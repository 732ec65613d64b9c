// build.mjs: makes assets.cpp of the page's sources. node build.mjs NPM OUT, from CMake.
//
// Everything happens in OUT: the sources are copied there, beside node_modules, so that the source tree stays as it is.
// npm is asked only when the lock file is not the one that OUT/node_modules was made from.
// The same sources with the same node give the same bytes; the hash is of what is inside, before compressing.
import {createHash} from "node:crypto";
import {cpSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {createRequire} from "node:module";
import {dirname, join} from "node:path";
import {spawnSync} from "node:child_process";
import {fileURLToPath, pathToFileURL} from "node:url";
import {gzipSync} from "node:zlib";

const kBrowsers = ["chrome90", "firefox98", "safari15.4"];
const kHeaviest = 150_000;  // bytes, compressed, all files together

const [npm, out] = process.argv.slice(2);
const source = dirname(fileURLToPath(import.meta.url));

function fail(words) {
  console.error(`page: ${words}`);
  process.exit(1);
}

function run(program, parameters, what) {
  const ended = spawnSync(program, parameters, {cwd: out, stdio: "inherit"});
  if (ended.error) fail(`${what}: ${ended.error.message}`);
  if (ended.status !== 0) fail(`${what} failed`);
}

function install() {
  const lock = readFileSync(join(source, "package-lock.json"), "utf8");
  const installed = join(out, "node_modules", "made-from.json");
  if (existsSync(installed) && readFileSync(installed, "utf8") === lock) return;
  run(npm, ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--prefer-offline", "--loglevel=error"],
      "npm ci (it needs the package registry, or npm's cache)");
  writeFileSync(installed, lock);
}

function copySources() {
  for (const name of readdirSync(out))
    if (/\.(tsx?|css|html|svg)$/.test(name)) rmSync(join(out, name));
  for (const name of readdirSync(source))
    if (/\.(tsx?|css|html|svg|json)$/.test(name)) cpSync(join(source, name), join(out, name));
}

/// The licences of what is bundled, each with its text as its authors wrote it, as a comment for the end of page.js.
function notices() {
  const {packages} = JSON.parse(readFileSync(join(out, "package-lock.json"), "utf8"));
  const texts = Object.entries(packages).filter(([place, {dev}]) => place !== "" && !dev).map(([place, {version}]) => {
    const licence = join(out, place, "LICENSE");
    if (!existsSync(licence)) fail(`${place} has no file LICENSE, whose text page.js must carry`);
    return `${place.replace(/^.*node_modules\//, "")} ${version}\n\n${readFileSync(licence, "utf8").trim()}`;
  });
  const text = texts.join("\n\n");
  if (text.includes("*/")) fail("a licence ends a comment of JavaScript, so that it cannot stand in one");
  return `/*! Licences of what this file was made with.\n\n${text}\n*/`;
}

/// As C++ sees it: char array of octal escapes, so that no signed char narrows.
function array(name, bytes) {
  const lines = [];
  for (let i = 0; i < bytes.length; i += 24)
    lines.push("    " + [...bytes.subarray(i, i + 24)].map(byte => `'\\${byte.toString(8)}'`).join(","));
  return `constexpr char ${name}[] = {\n${lines.join(",\n")}};\n`;
}

mkdirSync(out, {recursive: true});
copySources();
install();

const require = createRequire(pathToFileURL(join(out, "package.json")));
const esbuild = require("esbuild");
run(process.execPath, [join(out, "node_modules", "typescript", "bin", "tsc"), "--noEmit"], "checking the types");

const common = {absWorkingDir: out, write: false, minify: true, logLevel: "warning", legalComments: "none"};
async function bundle(entry, options) {
  const result = await esbuild.build({...common, entryPoints: [entry], bundle: true, ...options});
  return Buffer.from(result.outputFiles[0].contents);
}

try {
  const texts = await bundle("texts.ts", {format: "esm"});
  const {english} = await import("data:text/javascript;base64," + texts.toString("base64"));
  const text = readFileSync(join(out, "index.html"), "utf8").replace(/\{\{(\w+)\}\}/g, (_, key) => {
    if (typeof english.document[key] !== "string") fail(`index.html asks for a text "${key}" that texts.ts has not`);
    return english.document[key].replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/"/g, "&quot;");
  });
  const manifest = {
    name: english.document.title, short_name: english.document.title, start_url: "/", display: "standalone",
    background_color: "#ffffff", theme_color: "#ffffff", icons: [{src: "/icon.svg", sizes: "any", type: "image/svg+xml"}]
  };
  const files = [
    ["/", "text/html; charset=utf-8", Buffer.from(text.replace(/\n\s*/g, "\n"))],
    ["/page.js", "text/javascript; charset=utf-8",
     await bundle("main.tsx", {format: "iife", target: kBrowsers, footer: {js: notices()}})],
    ["/page.css", "text/css; charset=utf-8", await bundle("page.css", {target: kBrowsers})],
    ["/icon.svg", "image/svg+xml", readFileSync(join(out, "icon.svg"))],
    ["/manifest.webmanifest", "application/manifest+json", Buffer.from(JSON.stringify(manifest))],
  ];

  const hash = createHash("sha256");
  for (const [path, type, bytes] of files) hash.update(`${path}\n${type}\n${bytes.length}\n`).update(bytes);
  const packed = files.map(([path, type, bytes]) => [path, type, gzipSync(bytes, {level: 9})]);
  const weight = packed.reduce((sum, [, , bytes]) => sum + bytes.length, 0);
  if (weight > kHeaviest) fail(`weighs ${weight} bytes, more than ${kHeaviest}`);

  writeFileSync(join(out, "assets.cpp"), `// Made by build.mjs.
#include "firmware-host/page/server.hpp"

namespace hangtrue::page {
namespace {
// clang-format off
${packed.map(([, , bytes], i) => array(`kFile${i}`, bytes)).join("")}// clang-format on
}  // namespace

const std::vector<Asset>& assets() {
  static const std::vector<Asset> all = {
${packed.map(([path, type], i) => `      {"${path}", "${type}", {kFile${i}, sizeof kFile${i}}},`).join("\n")}
  };
  return all;
}

std::string_view build() { return "${hash.digest("hex").slice(0, 16)}"; }

}  // namespace hangtrue::page
`);
  console.log(`page: ${(weight / 1000).toFixed(1)} kB compressed: ` +
              packed.map(([path, , bytes]) => `${path} ${bytes.length}`).join(", "));
} catch (error) {
  fail(error.errors ? "esbuild failed" : error.stack);  // esbuild has shown its own errors
}
