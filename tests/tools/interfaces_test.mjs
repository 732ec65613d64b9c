// What data/interfaces.md says of JSON, CSV and exit codes is what the shipped command does: each subcommand is run on the demo
// sheets, on a rehearsed job and on an old book; every member of its output must stand in the page's table with its type, and
// every member of the table must appear.
import assert from "node:assert/strict";
import {spawnSync} from "node:child_process";
import {appendFileSync, copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {join} from "node:path";
import {fileURLToPath} from "node:url";
import {after, before, test} from "node:test";

const command = process.env.HANGTRUE_COMMAND, data = process.env.HANGTRUE_DATA;
assert.ok(command && data, "HANGTRUE_COMMAND and HANGTRUE_DATA are not set; ctest sets them");
const directory = mkdtempSync(join(tmpdir(), "hangtrue-interfaces-"));
after(() => rmSync(directory, {recursive: true, force: true}));
const place = name => join(directory, name);

// The page.

const page = readFileSync(join(data, "interfaces.md"), "utf8");
/// The cells of the first table below that heading, one list a row, without its two head rows.
function rows(heading) {
  const from = page.indexOf(`\n## ${heading}`);
  assert.ok(from >= 0, `data/interfaces.md has no heading that begins with "${heading}"`);
  const lines = page.slice(from + 1).split("\n## ")[0].split("\n");
  const begin = lines.findIndex(line => line.startsWith("|"));
  const table = lines.slice(begin, lines.findIndex((line, i) => i > begin && !line.startsWith("|")));
  return table.slice(2).map(line => line.split("|").slice(1, -1).map(cell => cell.trim()));
}

/// Name to {type, nullable, optional} of a subcommand's members.
function members(subcommand) {
  const known = new Map();
  for (const [name, type, , meaning] of rows(`\`hangtrue ${subcommand} `)) {
    const words = /^`([^`]+)`$/.exec(name);
    assert.ok(words, `${subcommand}: "${name}" is no name in backquotes`);
    assert.ok(!known.has(words[1]), `${subcommand}: ${words[1]} stands twice`);
    assert.ok(meaning, `${subcommand}: ${words[1]} has no meaning`);
    const [, plain, nullable, optional] = /^(.*?)( or null)?(, optional)?$/.exec(type);
    known.set(words[1], {type: plain, nullable: !!nullable, optional: !!optional});
  }
  return known;
}

const isObject = value => value !== null && typeof value === "object" && !Array.isArray(value);
const listOf = is => value => Array.isArray(value) && value.every(is);
const isNumber = value => typeof value === "number", isText = value => typeof value === "string";
const kTypes = {
  "number": isNumber, "whole number": Number.isInteger, "text": isText, "true or false": value => typeof value === "boolean",
  "object": isObject, "list of numbers": listOf(isNumber), "list of texts": listOf(isText), "list of objects": listOf(isObject),
  "object as in `fit`": isObject, "object as in `shims`": isObject, "object as it was stored": value => isObject(value) || isText(value),
};

// Members that the table lets be absent, and which none of the outputs here has.
const kNotShownHere = new Set([
  "corrections[].by.mark", "readings[].as_taken.mark",  // a corrected distance to a mark
  "misread[].kind", "misread[].stage", "misread[].channel", "misread[].factor", "misread[].weight",  // no readings that contradict
  "readings[].as_taken.temperature_C",                  // a corrected reading of an instrument that tells its temperature
]);

const seen = new Map();  // subcommand to the names that its outputs had
const tables = new Map(), outputs = [];
/// Complains of everything in the output that the page does not say, or says otherwise.
function check(subcommand, output) {
  if (!tables.has(subcommand)) tables.set(subcommand, members(subcommand)), seen.set(subcommand, new Set());
  const known = tables.get(subcommand), names = seen.get(subcommand);
  const walk = (object, prefix) => {
    for (const [key, value] of Object.entries(object)) {
      const name = prefix + key, says = known.get(name);
      assert.ok(says, `${subcommand} --json has ${name}, which data/interfaces.md does not list`);
      names.add(name);
      assert.ok(kTypes[says.type], `${subcommand}: ${name} has the unknown type "${says.type}"`);
      if (value === null) {
        assert.ok(says.nullable, `${subcommand} --json: ${name} is null, which data/interfaces.md does not say`);
        continue;
      }
      assert.ok(kTypes[says.type](value), `${subcommand} --json: ${name} is no ${says.type}: ${JSON.stringify(value).slice(0, 80)}`);
      if (says.type === "object") walk(value, `${name}.`);
      if (says.type === "list of objects") value.forEach(each => walk(each, `${name}[].`));
      const as = /^object as in `(\w+)`$/.exec(says.type);
      if (as) check(as[1], value);
    }
    for (const [name, {optional}] of known)
      if (!optional && name.startsWith(prefix) && /^\w+$/.test(name.slice(prefix.length)))
        assert.ok(name.slice(prefix.length) in object, `${subcommand} --json lacks ${name}, which data/interfaces.md lists`);
  };
  assert.ok(isObject(output), `${subcommand} --json gives no object`);
  outputs.push([subcommand, output]);
  walk(output, "");
}

// The command.

function run(...parameters) {
  const {status, stdout, stderr, error} = spawnSync(command, parameters, {encoding: "utf8", maxBuffer: 1 << 28});
  if (error) throw error;
  return {code: status, output: stdout, errors: stderr};
}
function json(codes, ...parameters) {
  const {code, output, errors} = run(...parameters, "--json");
  assert.ok([codes].flat().includes(code), `hangtrue ${parameters.join(" ")} ended with ${code}: ${errors}`);
  return JSON.parse(output);
}
/// Runs it, checks what it says against the page, and gives it.
function agreed(codes, subcommand, ...parameters) {
  const output = json(codes, subcommand, ...parameters);
  check(subcommand, output);
  return output;
}

// What it is run on.

const kRuns = ["reading-room-bridge-shelf", "bottle-canopy"];
const sheet = (kind, name) => join(data, kind, `${name}.toml`);
const book = place("job.levelbook"), old = place("old.levelbook"), run_sheet = place("run.toml"), kit_sheet = place("kit.toml");
const rehearsed = [];  // what was printed, a line a survey

/// The same job in seconds: fewer stations, a kit that settles sooner. A stable mark, which lets heights be compared. Nothing in the
/// kit sheet vouches for its scales: they are checked in the rehearsal.
const quick = text => [
  [/(name = "east rod"\n)/, '$1hangs = "1.1 m"\nexpansion = "12e-6 /K"\n'],  // steel, EN 1993-1-1, 3.2.6
  [/\{ every = "300 mm" \}/, '{ every = "700 mm" }'], [/window = "[12] s"/g, 'window = "0.4 s"'], [/every = "100 ms"/g, 'every = "20 ms"'],
].reduce((all, [what, by]) => all.replace(what, by), text);

before(() => {
  const mark = '\n[[mark]]\nname = "lintel"\nat = "-400 mm"\n';
  writeFileSync(run_sheet, quick(readFileSync(sheet("runs", kRuns[0]), "utf8")) + mark);
  writeFileSync(kit_sheet, quick(readFileSync(sheet("kits", "reading-room"), "utf8")).replace(/^scale_checked.*\n/gm, ""));
  copyFileSync(join(data, "books", "schema-3.levelbook"), old);
  for (const later of [["365 days", "--sinks", "east rod=2 mm"], ["730 days"]]) {
    const {code, output, errors} = run("rehearse", run_sheet, kit_sheet, "--stage", "second bolted", "--seed", "7", "--rate", "100",
                                       "--book", book, "--json", "--later", ...later);
    assert.equal(code, 0, errors);
    rehearsed.push(...output.trim().split("\n").map(line => JSON.parse(line)));
  }
});

/// Invented readings of a walk with the inclinometer: the slopes that the sheet predicts, and what is added to each.
function readings(name, added, at = "second bolted", truth = run_sheet) {
  const {stages} = json([0, 1], "predict", truth), stage = stages.find(each => each.name === at);
  const lines = ["time,set_up,instrument,channel,at,face,edge,value,unit,sigma"];
  stage.at_m.forEach((at_m, i) => {
    for (let turn = 0; turn < 4; ++turn)
      lines.push(`,,walking inclinometer,slope,${at_m} m,${turn % 2 ? -1 : 1},,${(turn % 2 ? -1 : 1) * stage.slope_rad[i] + added(i, turn)},rad,2e-5`);
  });
  writeFileSync(place(name), lines.join("\n") + "\n");
  return ["--readings", place(name), "--stage", at];
}

test("every subcommand that has --json has its table, and no other", () => {
  const list = run("--help").output.split("Subcommands:")[1];
  const subcommands = [...list.matchAll(/^ {2}(\w+) /gm)].map(([, name]) => name);
  assert.ok(subcommands.length > 8, list);
  const having = subcommands.filter(name => run(name, "--help").output.includes("--json"));
  const listed = [...page.matchAll(/^## `hangtrue (\w+) /gm)].map(([, name]) => name);
  assert.deepEqual(listed.sort(), having.sort());
});

test("explain", () => {
  agreed(0, "explain");
  assert.equal(agreed(0, "explain", "support.rise").keys.length, 1);
});

test("check", () => {
  const doubtful = place("doubtful.toml");
  writeFileSync(doubtful, readFileSync(run_sheet, "utf8").replace('"210 GPa"', '"310 GPa"'));
  for (const [name, code, what] of [[doubtful, 0, "doubt"], [place("nowhere.toml"), 2, "complaint"]]) {
    const {code: ended, output} = run("check", name, "--json");
    assert.equal(ended, code);
    const found = output.trim().split("\n").map(line => JSON.parse(line));
    assert.ok(found.length > 0);
    found.forEach(each => (check("check", each), assert.equal(each.what, what)));
  }
});

test("what is wrong comes as JSON to who asks with --json", () => {
  const {code, output, errors} = run("predict", place("nowhere.toml"), "--json");
  assert.deepEqual([code, output], [2, ""]);
  const {exit_code, message, complaints} = JSON.parse(errors.trim().split("\n").at(-1));
  assert.equal(exit_code, 2);
  assert.match(message, /no such file/);
  assert.deepEqual(Object.keys(complaints[0]), ["file", "line", "key", "found", "expected"]);
});

test("predict", () => {
  for (const name of kRuns) assert.equal(agreed(0, "predict", sheet("runs", name)).within_tolerance, true);
  // Held to a hair it will not be level, and no setting of its rod and shims is fine enough.
  const text = readFileSync(sheet("runs", kRuns[0]), "utf8").replace(/^level = .*$/m, 'level = "0.01 mm"');
  writeFileSync(place("hair.toml"), text);
  assert.equal(agreed(1, "predict", place("hair.toml")).within_tolerance, false);
  // The beam's own weight is forgotten in the first stage.
  writeFileSync(place("doubtful.toml"), readFileSync(sheet("runs", kRuns[0]), "utf8").replace('loads = ["spine", "carcasses"]', 'loads = ["carcasses"]'));
  const {sheet_doubts} = agreed([0, 1], "predict", place("doubtful.toml"));
  assert.equal(sheet_doubts.length, 1);
  assert.match(sheet_doubts[0].says, /its own weight is not on in "on lifts"/);
  const shown = run("predict", place("doubtful.toml"));
  assert.match(shown.errors, /doubtful\.toml:\d+: stage\[1\]\.loads: doubtful: "spine" hangs/);
  writeFileSync(place("open.toml"), text.replace(/^\[tolerance\]$[^[]*/m, ""));
  assert.equal(agreed(0, "predict", place("open.toml")).within_tolerance, null);
  // A channel turns about its shear centre, outside its web, and warps. UPE 180: 5.19 cm from the centroid (EN 10365).
  const section = /^section = .*$/m;
  writeFileSync(place("channel.toml"), readFileSync(sheet("runs", kRuns[0]), "utf8").replace(section,
    'section = { shape = "channel", depth = "180 mm", width = "75 mm", web = "5.5 mm", flange = "10.5 mm", root = "12 mm", upright = "left" }'));
  const channel = agreed([0, 1], "predict", place("channel.toml"));
  assert.ok(Math.abs(channel.shear_centre_m - 0.0519) < 1.6e-4, `${channel.shear_centre_m}`);
  assert.equal(channel.stages[0].bimoment_Nm2.length, channel.stages[0].at_m.length);
  // Level enough, but a straight-edge finds more than is allowed.
  writeFileSync(place("straight.toml"), readFileSync(sheet("runs", kRuns[0]), "utf8").replace(/^(level = .*)$/m, '$1\nper = "0.01 mm over 2 m"'));
  const {within_tolerance, stages} = agreed(1, "predict", place("straight.toml"));
  assert.equal(within_tolerance, false);
  assert.equal(stages.find(({straightness}) => straightness).straightness.within, false);
  // Steel stays where it is.
  const {later, level_error_m} = agreed(0, "predict", sheet("runs", kRuns[0]), "--after", "1 year");
  assert.equal(later.creeps, false);
  assert.equal(later.days, 365.25);
  assert.ok(Math.abs(later.level_error_m - level_error_m) < 1e-12);
});

test("fit and shims, from readings in a file and from a book", () => {
  const with_kit = ["--kit", kit_sheet];
  const right = readings("right.csv", (i, turn) => 1e-5 * ((i + turn) % 3 - 1));
  agreed(0, "fit", run_sheet, ...right, ...with_kit);
  agreed([0, 1], "shims", run_sheet, ...right, ...with_kit);
  agreed(0, "fit", run_sheet, ...right);  // without a kit: no instrument is known, so there is no next reading
  // Tilted before the rod is there: a move for later.
  const tilted = readings("tilted.csv", (i, turn) => (turn % 2 ? -1 : 1) * 1e-3, "first fixed point bolted");
  agreed([0, 1], "shims", run_sheet, ...tilted, ...with_kit);
  agreed([0, 1], "shims", place("straight.toml"), ...tilted, ...with_kit);
  const stray = readings("stray.csv", (i, turn) => (i === 6 && turn === 0 ? 5e-3 : 0));
  assert.equal(agreed(0, "fit", run_sheet, ...stray, ...with_kit).set_aside.length, 1);
  assert.equal(agreed([0, 1], "shims", run_sheet, ...stray, ...with_kit).set_aside.length, 1);
  // Read twice; it has tilted meanwhile.
  readings("again.csv", (i, turn) => (turn % 2 ? -1 : 1) * 1e-3);
  const moved = readings("moved.csv", () => 0);
  appendFileSync(place("moved.csv"), readFileSync(place("again.csv"), "utf8").split("\n").slice(1).join("\n"));
  assert.equal(agreed(0, "fit", run_sheet, ...moved, ...with_kit).movements.length, 1);
  // One reading in four is far off: too many to set aside, so that the fit does not hold.
  const wrong = agreed([0, 3], "fit", run_sheet, ...readings("wrong.csv", (i, turn) => (turn === 3 ? 1e-3 * (i % 5) : 0)), ...with_kit);
  assert.equal(wrong.holds, false);
  for (const survey of ["1", "2"]) {
    agreed(0, "fit", run_sheet, "--book", book, "--survey", survey);
    agreed([0, 1], "shims", run_sheet, "--book", book, "--survey", survey);
  }
});

test("rehearse", () => {
  assert.equal(rehearsed.length, 4, "two rehearsals of two surveys");
  rehearsed.forEach(each => check("rehearse", each));
});

test("recheck", () => {
  const moved = agreed([0, 1], "recheck", run_sheet, "--book", book, "--from", "1", "--to", "2");
  assert.equal(moved.answer, "moved");
  // The instruments of the rehearsal tell their temperature, of which the rod takes its length.
  assert.deepEqual(moved.warmth.supports.map(({support}) => support), ["east rod"]);
  assert.ok(moved.warmth.supports[0].sigma_m > 2e-5);
  writeFileSync(place("edge.toml"), readFileSync(run_sheet, "utf8").replace(/^(level = .*)$/m, '$1\nper = "0.01 mm over 3 m"')
    .replace(/^stage = .*$/m, 'stage = "second bolted"'));  // the stage surveyed counts as finished
  const edge = agreed(1, "recheck", place("edge.toml"), "--book", book, "--from", "2", "--to", "4");
  assert.equal(edge.straightness.within, false);
  agreed([0, 1], "recheck", run_sheet, "--book", book, "--from", "2", "--to", "4");  // three surveys of a stage: trends
});

test("spring: a bracket that is softer in pitch than the sheet says is found to be", () => {
  // Invented: an arm that one bracket holds. The truth: 45 kN m/rad instead of 60, and in a stage of its own 10 kg near the far end.
  const arm = (pitch, more = "") => `title = "Arm"
show = "metric"
length = "1200 mm"
width = "200 mm"
stations = { every = "200 mm" }
material.steel = { E = "210 GPa", G = "81 GPa", density = "7850 kg/m3" }
member = [ { name = "arm", from = "0 mm", to = "1200 mm", material = "steel", section = "RHS 100x50x4" } ]
[[support]]
name = "wall bracket"
at = "0 mm"
rise = "25 kN/mm"
pitch = "${pitch} kN m/rad"
roll = "40 kN m/rad"
[[support]]
name = "rod"
at = "1200 mm"
rise = "9 kN/mm"
pitch = "free"
roll = "free"
holds = "pull"
[[stage]]
name = "bolted"
supports = ["wall bracket"]
loads = ["arm"]
${more}`;
  const weight = `[[load]]
name = "weight"
at = "1100 mm"
mass = "10 kg"
[[stage]]
name = "weighed"
supports = ["wall bracket"]
loads = ["arm", "weight"]
`;
  const guess = place("arm.toml"), truth = place("arm-truth.toml");
  writeFileSync(guess, arm(60));
  writeFileSync(truth, arm(45, weight));
  const jitter = (i, turn) => 1e-5 * ((i + turn) % 3 - 1);
  const [, off] = readings("off.csv", jitter, "bolted", truth), [, on] = readings("on.csv", jitter, "weighed", truth);
  const asked = ["--support", "wall bracket", "--weight", "10 kg", "--at", "1100 mm", "--stage", "bolted", "--off", off, "--on", on];
  const {holds, springs} = agreed(0, "spring", guess, ...asked);
  assert.ok(holds);
  const pitch = springs.find(({motion}) => motion === "pitch");
  assert.ok(pitch.told);
  assert.ok(pitch.relative_sigma < 0.02);
  const off_by = Math.log(pitch.stiffness_Nm_per_rad / 45e3) / pitch.relative_sigma;
  assert.ok(Math.abs(off_by) < 2, `${pitch.stiffness_Nm_per_rad} N m/rad is ${off_by} sigmas off`);
  assert.equal(springs.find(({motion}) => motion === "rise").told, false);  // slopes do not see it
  const shown = run("spring", guess, ...asked);
  assert.match(shown.output, /pitch +4\d.* kN m\/rad \+- [\d.]+ % +\(the sheet has 60 kN m\/rad\)/);
  const instead = (option, value) => asked.with(asked.indexOf(option) + 1, value);
  for (const [option, wrong, right] of [["--support", "nobody", /a support of the run sheet: wall bracket/], ["--at", "9 m", /a place on the run/],
                                        ["--weight", "heavy", /a mass/], ["--support", "rod", /that stage "bolted" lists/]]) {
    const {code, errors} = run("spring", guess, ...instead(option, wrong));
    assert.equal(code, 2, errors);
    assert.match(errors, right);
  }
  // A weight that hardly does anything tells nothing.
  const light = run("spring", guess, ...instead("--weight", "0.001 kg").with(-1, off));
  assert.notEqual(light.code, 0);
});

test("report", () => {
  const {pages, files} = agreed(0, "report", run_sheet, "--book", book, "--survey", "1", "-o", place("as-built.svg"));
  assert.equal(files.length, pages);
  assert.match(readFileSync(files[0], "utf8"), /<svg/);
});

test("stations", () => {
  for (const what of ["levelling", "recheck"])
    for (const name of [run_sheet, sheet("runs", kRuns[0])]) agreed([0, 1], "stations", name, kit_sheet, "--for", what);
});

test("surveys, export, copy, seal and audit", () => {
  for (const each of [book, old]) {
    const {surveys} = agreed(0, "surveys", each);
    for (const {id} of surveys) {
      agreed(0, "export", each, "--survey", id);
      agreed(0, "export", each, "--survey", id, "--raw");
    }
    agreed(0, "copy", each, `${each}-copy`);
    const {number, short} = agreed(0, "seal", each);
    agreed(0, "audit", each, "--seal", `${number} ${short}`);
    agreed(1, "audit", each, "--seal", `${number} AAAA-AAAA-AAAA-AAAA`);
  }
  const bytes = readFileSync(old), at = bytes.indexOf("Invented");
  assert.ok(at > 0, "the note of the old book");
  bytes.write("Intended", at);
  writeFileSync(place("broken.levelbook"), bytes);
  assert.notEqual(agreed(1, "audit", place("broken.levelbook")).first_bad, null);
});

test("the columns of the readings CSV, as exported and as read", () => {
  const columns = rows("Readings CSV").map(([name]) => name.replaceAll("`", ""));
  const csv = run("export", book, "--survey", "1");
  assert.equal(csv.code, 0, csv.errors);
  const lines = csv.output.split("\r\n");
  assert.equal(lines[0], columns.join(","));
  writeFileSync(place("exported.csv"), csv.output);
  agreed(0, "fit", run_sheet, "--readings", place("exported.csv"), "--stage", "second bolted", "--kit", kit_sheet);
  // Of each column: a row with that field empty is refused, and names the column, but where the page lets it be empty.
  const given = {time: "2026-09-14T08:30:00Z", set_up: "A", instrument: "laser distance meter", channel: "distance", at: "1200 mm", face: "1",
                 edge: "left", value: "1.5", unit: "m", sigma: "0.001", temperature: "18 C"};
  assert.deepEqual(Object.keys(given), columns);
  for (const [name, empty] of rows("Readings CSV").map(([name, empty]) => [name.replaceAll("`", ""), empty])) {
    writeFileSync(place("one.csv"), `${columns.join(",")}\n${columns.map(column => (column === name ? "" : given[column])).join(",")}\n`);
    const {code, errors} = run("fit", run_sheet, "--readings", place("one.csv"), "--stage", "second bolted");
    assert.equal(code, empty.startsWith("yes") ? 0 : 2, `${name} empty: ${errors}`);
    if (code === 2) assert.match(errors, new RegExp(`column ${name}\\b`));
  }
});

test("exit codes", () => {
  const codes = new Set([
    run("predict", sheet("runs", kRuns[0])).code,
    run("audit", place("broken.levelbook")).code,
    run("predict", place("nowhere.toml")).code,
    run("rehearse", run_sheet, kit_sheet, "--daemon", "/bin/false").code,
  ]);
  assert.deepEqual([...codes].map(String), rows("Exit codes").map(([code]) => code));
});

test("python3-jsonschema, an independent validator, finds every output to be as its JSON Schema says", () => {
  assert.ok(outputs.length > 30);
  const {status, stdout, stderr} = spawnSync("/usr/bin/python3", [fileURLToPath(new URL("validate.py", import.meta.url)), join(data, "schemas", "json")],
                                             {encoding: "utf8", input: outputs.map(each => JSON.stringify(each)).join("\n"), maxBuffer: 1 << 28});
  assert.equal(status, 0, stdout + stderr);
  assert.equal(stdout.trim(), `${outputs.length} outputs are as their schemas say`);
});

test("every member that the page lists was shown", () => {
  const missing = [];
  for (const [subcommand, known] of tables)
    for (const [name, {optional}] of known)
      if (!seen.get(subcommand).has(name) && !(optional && kNotShownHere.has(name))) missing.push(`${subcommand} --json: ${name}`);
  assert.deepEqual(missing, [], "listed in data/interfaces.md, and in none of the outputs");
});
