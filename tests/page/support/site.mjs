// site.mjs: a building site for one test: an invented run, simulated instruments on pseudo-terminals (hangtrue rehearse
// --play), and the shipped daemon with its page on a free port.
//
//     const site = await Site.begin(t, {sheets: "imperial"});
//     await site.put("1200 mm face 2");          // the installer's hands
//     site.url                                   // "http://127.0.0.1:40123/"
//
// Whatever happens the programs end with the test: t.after, and the kernel where the test itself is killed.
import assert from "node:assert/strict";
import {spawn, spawnSync} from "node:child_process";
import {mkdtempSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {join} from "node:path";
import {createInterface} from "node:readline";

import {command, daemon, data} from "./packages.mjs";
import {until, within} from "./waiting.mjs";

export const kSheets = {
  metric: {run: "reading-room-bridge-shelf.toml", kit: "reading-room-mixed.toml"},
  imperial: {run: "bottle-canopy.toml", kit: "bottle-canopy-mixed.toml"},
};

/// The same job in seconds: fewer stations, a kit that settles sooner.
const kQuick = [
  [/\{ every = "300 mm" \}/, '{ every = "700 mm" }'],
  [/\{ every = "17 in" \}/, '{ every = "34 in" }'],
  [/window = "[12] s"/g, 'window = "0.4 s"'],
  [/every = "100 ms"/g, 'every = "20 ms"'],
];

const quickened = text => kQuick.reduce((all, [what, by]) => all.replace(what, by), text);

/// Writes a sheet of kSheets, "run" or "kit", into that directory; its path.
export function writeSheet(directory, sheets, kind, change = text => text) {
  const text = readFileSync(join(data, `${kind}s`, kSheets[sheets][kind]), "utf8"), path = join(directory, `${kind}.toml`);
  writeFileSync(path, change(quickened(text)));
  return path;
}

/// A program whose lines are kept, and which is killed with whoever started it.
export class Program {
  constructor(path, parameters) {
    this.lines = [];
    this.errors = "";
    this.ended = null;
    this.child = spawn("setpriv", ["--pdeathsig", "KILL", "--", path, ...parameters], {stdio: ["pipe", "pipe", "pipe"]});
    this.child.stdin.on("error", () => undefined);  // it has ended; whoever waits for its answer says so
    this.child.stderr.setEncoding("utf8").on("data", chunk => (this.errors += chunk));
    createInterface({input: this.child.stdout}).on("line", line => this.lines.push(line));
    this.end = new Promise(resolve => this.child.on("close", (code, signal) => {
      this.ended = {code, signal};
      resolve(this.ended);
    }));
  }
  say(line) {
    this.child.stdin.write(`${line}\n`);
  }
  /// The first line behind `from` that `is` true of; an error when the program has ended without it.
  async line(is, what, from = 0) {
    return until(() => {
      const found = this.lines.slice(from).find(is);
      if (!found && this.ended) throw new Error(`${this.child.spawnargs.at(-1)} ended without ${what}: ${JSON.stringify(this.ended)}\n${this.lines.slice(-20).join("\n")}\n${this.errors}`);
      return found;
    }, what);
  }
  /// Politely, so that it clears away what it made; not so politely where it does not listen.
  async part() {
    await this.kill("SIGTERM", 5_000).catch(() => this.kill());
  }
  async kill(signal = "SIGKILL", patience = undefined) {
    if (!this.ended) this.child.kill(signal);
    return within(this.end, `the end of ${this.child.spawnargs.at(-1)}`, patience);
  }
}

export class Site {
  /// sheets: of kSheets; change: text => text; stage; rate: samples a second; seconds: for how long the instruments
  /// play; address: where the page is; hush: nothing is sent until control("speak").
  static async begin(t, {sheets = "metric", change = text => text, stage = "second bolted", rate = 100, seconds = 1500, seed = 7, address = "127.0.0.1:0",
                         hush = false} = {}) {
    const site = new Site();
    t.after(() => site.end());
    site.directory = mkdtempSync(join(tmpdir(), "hangtrue-page-test-"));
    site.book = join(site.directory, "job.levelbook");
    site.stage = stage;
    site.address = address;
    const sheet = kind => writeSheet(site.directory, sheets, kind, change);
    site.run = sheet("run");
    site.instruments = new Program(command, ["rehearse", "--play", "--seconds", String(seconds), "--rate", String(rate), "--seed", String(seed),
                                             "--stage", stage, "--no-faults", ...(hush ? ["--hush"] : []), site.run, sheet("kit")]);
    const line = await site.instruments.line(each => each.startsWith("kit sheet with these ports: "), "its kit sheet");
    site.kit = line.slice(line.indexOf(": ") + 2);
    await site.instruments.line(each => each.startsWith("Playing"), "that it plays");
    site.answers = site.instruments.lines.length;
    await site.startDaemon();
    return site;
  }

  /// Anew where it was killed: on the port that it had.
  async startDaemon() {
    this.daemon = new Program(daemon, [this.run, this.kit, "--book", this.book, "--stage", this.stage, "--json-lines",
                                       "--page", this.address]);
    const {address} = await this.event(({event}) => event === "page", "the address of its page");
    await this.event(({event}) => event === "ready", "that it is ready");
    this.url = address;
    this.port = Number(new URL(address).port);
    this.address = this.address.replace(/:0$/, `:${this.port}`);
  }

  /// The first event behind line `from` that is so.
  async event(is, what, from = 0) {
    return JSON.parse(await this.daemon.line(line => is(JSON.parse(line)), what, from));
  }
  all(word) {
    return this.daemon.lines.map(line => JSON.parse(line)).filter(({event}) => event === word);
  }

  /// A line of the rehearsal's control; its answer. An error where it refuses.
  async control(line) {
    const mine = this.answers++;  // one line each, in order
    this.instruments.say(line);
    const answer = await until(() => this.instruments.lines[mine] ?? (this.instruments.ended && "refused: it has ended"), `an answer to "${line}"`);
    assert.doesNotMatch(answer, /^refused/, line);
    return answer;
  }
  /// Where the walking instruments are put: "1200 mm face 2 edge left set-up 1", or less.
  async put(place) {
    return this.control(`place ${place}`);
  }
  /// {messages, bytes, lost}: of an instrument so far.
  async sent(name) {
    const [messages, bytes, lost] = (await this.control(`sent ${name}`)).slice(`sent ${name}: `.length).match(/\d+/g).map(Number);
    return {messages, bytes, lost};
  }

  /// The daemon's status, line by line.
  async status() {
    const from = this.daemon.lines.length;
    this.daemon.say("status");
    await this.event(({event, text}) => event === "status" && text === "end", "its status", from);
    return this.daemon.lines.slice(from).map(line => JSON.parse(line)).filter(({event}) => event === "status").map(({text}) => text);
  }

  /// hangtrue WORDS...: its exit code and what it printed.
  hangtrue(...words) {
    const {status, stdout, stderr} = spawnSync(command, words, {encoding: "utf8", timeout: 120_000});
    return {code: status, output: stdout, errors: stderr};
  }
  hangtrueJson(...words) {
    const {code, output, errors} = this.hangtrue(...words, "--json");
    assert.ok(code === 0 || code === 1, `${words.join(" ")}: ${code}\n${output}${errors}`);
    return JSON.parse(output);
  }

  async end() {
    await Promise.all([this.daemon?.kill(), this.instruments?.part()]);
    if (this.directory) rmSync(this.directory, {recursive: true, force: true});
  }
}
