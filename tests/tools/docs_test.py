#!/usr/bin/env python3
"""Manual pages, completions and JSON Schemas in data are what write_docs writes, others can use them, and they are installed.

    docs_test.py WRITE_DOCS DATA HANGTRUE CMAKE BUILD

Others are groff (man(7)), bash, zsh, fish, and python3-jsonschema, an independent validator of JSON Schema 2020-12 (json-schema.org)."""

import copy
import json
import pathlib
import subprocess
import sys
import tempfile
import tomllib
import unittest

import jsonschema

WRITE_DOCS, DATA, HANGTRUE = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3]
CMAKE, BUILD = sys.argv[4], sys.argv[5]
FOLDERS = ["man", "completions", "schemas"]


def as_json(path):
    """A sheet as the schema sees it: dates are texts."""
    return json.loads(json.dumps(tomllib.loads(path.read_text(encoding="utf-8")), default=str))


class Docs(unittest.TestCase):
    def test_data_has_what_the_parsers_and_the_table_say(self):
        with tempfile.TemporaryDirectory() as to:
            subprocess.run([WRITE_DOCS, to], check=True)
            subprocess.run([sys.executable, DATA.parent / "tools/docs/interface_pages.py", pathlib.Path(to) / "man"], check=True)
            for folder in FOLDERS:
                now = {path.name: path.read_text(encoding="utf-8") for path in (pathlib.Path(to) / folder).iterdir()}
                kept = {path.name: path.read_text(encoding="utf-8") for path in (DATA / folder).iterdir() if path.is_file()}
                self.assertEqual(sorted(now), sorted(kept))
                for name, text in now.items():
                    self.assertEqual(text, kept[name], f"{folder}/{name}: run write_docs data, then tools/docs/interface_pages.py")

    def test_json_schemas_are_what_the_tables_and_the_page_s_types_say(self):
        with tempfile.TemporaryDirectory() as to:
            subprocess.run([sys.executable, DATA.parent / "tools/docs/json_schemas.py", to], check=True)
            now = {path.name: path.read_text(encoding="utf-8") for path in pathlib.Path(to).iterdir()}
            kept = {path.name: path.read_text(encoding="utf-8") for path in (DATA / "schemas/json").iterdir()}
            self.assertEqual(now, kept, "run tools/docs/json_schemas.py")

    def test_groff_reads_every_page_without_a_warning(self):
        for page in sorted((DATA / "man").iterdir()):
            done = subprocess.run(["groff", "-man", "-Tutf8", "-Kutf8", "-ww", "-z", page], capture_output=True, text=True)
            self.assertEqual((done.returncode, done.stderr), (0, ""), page)

    def test_pages_show_keys_options_and_cautions(self):
        def shown(name):
            return subprocess.run(["groff", "-man", "-Tascii", "-Kutf8", "-P-c", "-P-b", "-P-u", DATA / "man" / name], capture_output=True,
                                  text=True, check=True).stdout
        self.assertIn("pulled_home", shown("hangtrue-run-sheet.5"))
        self.assertIn("scale_checked", shown("hangtrue-kit-sheet.5"))
        self.assertIn("--no-questions", shown("hangtrue.1"))
        self.assertIn("--patience", shown("hangtrued.8"))
        self.assertIn("stages[].height_m", shown("hangtrue-json.7"))
        self.assertIn("set_up", shown("hangtrue-readings.5"))
        for page in (DATA / "man").iterdir():
            self.assertIn("Never look into a laser", " ".join(shown(page.name).split()), page)


class Completions(unittest.TestCase):
    def completed(self, *words):
        script = (f"source {DATA / 'completions' / 'hangtrue.bash'}; COMP_WORDS=({' '.join(words)} ''); "
                  "[ -n \"$1\" ] && COMP_WORDS[${#COMP_WORDS[@]}-1]=$1; COMP_CWORD=$((${#COMP_WORDS[@]}-1)); "
                  "_${COMP_WORDS[0]}; printf '%s\\n' \"${COMPREPLY[@]}\"")
        return lambda begun: subprocess.run(["bash", "-c", script, "bash", begun], capture_output=True, text=True, check=True).stdout.split()

    def test_bash_completes_subcommands_options_and_keys(self):
        self.assertEqual(self.completed("hangtrue")("pre"), ["predict"])
        self.assertIn("--version", self.completed("hangtrue")(""))
        self.assertEqual(self.completed("hangtrue", "stations", "RUN.toml")("--wa"), ["--wanted"])
        self.assertEqual(sorted(self.completed("hangtrue", "new")("")), ["--help", "kit", "run"])
        self.assertIn("--left", self.completed("hangtrue", "new", "run")("--l"))
        self.assertEqual(self.completed("hangtrue", "explain")("tolerance.lev"), ["tolerance.level"])
        self.assertEqual(self.completed("hangtrued")("--pat"), ["--patience"])

    def test_fish_completes_the_same_and_says_what_it_is(self):
        def offered(line):
            script = f"source {DATA / 'completions' / 'hangtrue.fish'}; complete -C '{line}'"
            with tempfile.TemporaryDirectory() as home:  # fish writes into it
                said = subprocess.run(["fish", "--no-config", "-c", script], capture_output=True, text=True, check=True,
                                      env={"HOME": home, "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"}).stdout
            return dict((line.split("\t") + [""])[:2] for line in said.splitlines())
        self.assertEqual(list(offered("hangtrue pre")), ["predict"])
        self.assertNotEqual(offered("hangtrue pre")["predict"], "")
        self.assertEqual(list(offered("hangtrue stations RUN.toml --wa")), ["--wanted"])
        self.assertTrue({"kit", "run"} <= set(offered("hangtrue new ")))
        self.assertIn("--left", offered("hangtrue new run --l"))
        self.assertIn("tolerance.level", offered("hangtrue explain tolerance.lev"))
        self.assertEqual(list(offered("hangtrued --pat")), ["--patience"])

    def test_zsh_completes_the_same_and_says_what_it_is(self):
        def offered(*words):
            script = ("_describe() { print -l -- $offers }; _files() { }; service=$1; shift; words=(\"$service\" \"$@\"); CURRENT=$#words; "
                      f"complete_it() {{ source {DATA / 'completions' / 'hangtrue.zsh'} }}; complete_it")
            return subprocess.run(["zsh", "-f", "-c", script, "zsh", *words], capture_output=True, text=True, check=True).stdout.splitlines()
        self.assertIn("--version:version, commit and formats", offered("hangtrue", ""))
        self.assertTrue(any(line.startswith("predict:") for line in offered("hangtrue", "pre")))
        self.assertTrue(any(line.startswith("--wanted:") for line in offered("hangtrue", "stations", "data/RUN.toml", "--wa")))
        self.assertEqual([line.split(":")[0] for line in offered("hangtrue", "new", "")], ["--help", "run", "kit"])
        self.assertTrue(any(line.startswith("--left:") for line in offered("hangtrue", "new", "run", "--l")))
        self.assertTrue(any(line.startswith("tolerance.level:") for line in offered("hangtrue", "explain", "tol")))
        self.assertTrue(any(line.startswith("--patience:") for line in offered("hangtrued", "--pat")))


class Schemas(unittest.TestCase):
    def setUp(self):
        self.schemas = {}
        for sort in ("run", "kit"):
            schema = json.loads((DATA / "schemas" / f"{sort}-sheet.schema.json").read_text(encoding="utf-8"))
            jsonschema.Draft202012Validator.check_schema(schema)
            self.schemas[sort] = jsonschema.Draft202012Validator(schema)

    def complaints(self, sort, sheet):
        return [f"{'/'.join(map(str, error.absolute_path))}: {error.message[:200]}" for error in self.schemas[sort].iter_errors(sheet)]

    def test_good_sheets_are_accepted(self):
        sheets = [("run", path) for path in (DATA / "runs").glob("*.toml")] + [("kit", path) for path in (DATA / "kits").glob("*.toml")]
        self.assertGreater(len(sheets), 8)
        for sort, path in sheets:
            self.assertEqual(self.complaints(sort, as_json(path)), [], path)

    def test_new_sheets_are_accepted(self):
        for sort in ("run", "kit"):
            text = subprocess.run([HANGTRUE, "new", sort, "--no-questions"], capture_output=True, text=True, check=True).stdout
            self.assertEqual(self.complaints(sort, json.loads(json.dumps(tomllib.loads(text), default=str))), [], sort)

    def test_examples_of_every_key_are_accepted_where_they_stand(self):
        keys = json.loads(subprocess.run([HANGTRUE, "explain", "--json"], capture_output=True, text=True, check=True).stdout)["keys"]
        self.assertGreater(len(keys), 130)
        for key in keys:
            path = key["key"].replace("instrument.channel.", "instrument.items.channel.").split(".")
            at = self.schemas[key["sheet"]].schema
            written = json.loads(json.dumps(tomllib.loads(key["example"]), default=str))
            for part in path:  # down to the section that the example's first key stands in
                if part in written and part in at.get("properties", {}):
                    break
                if part == "items":
                    continue
                at = at["additionalProperties"] if part == "NAME" else at["properties"][part]
                at = at.get("items", at)
            for name, value in written.items():
                errors = [error.message for error in jsonschema.Draft202012Validator(at["properties"][name]).iter_errors(value)]
                self.assertEqual(errors, [], f"{key['key']}: {key['example']}")

    def test_wrong_sheets_are_refused(self):
        run = as_json(DATA / "runs" / "reading-room-bridge-shelf.toml")
        for change in (lambda sheet: sheet.update(length=4200), lambda sheet: sheet.update(length="4200"), lambda sheet: sheet.pop("length"),
                       lambda sheet: sheet.update(lenght="4200 mm"), lambda sheet: sheet["support"][0].update(holds="up"),
                       lambda sheet: sheet["support"][0].update(rise="stiff"), lambda sheet: sheet["support"][0]["adjust"].update(rise=["0 mm"]),
                       lambda sheet: sheet["stock"]["van"].update(most="4"), lambda sheet: sheet["stage"][0].pop("supports"),
                       lambda sheet: sheet.update(support=[]), lambda sheet: sheet["material"]["steel"].update(E=210)):
            sheet = copy.deepcopy(run)
            change(sheet)
            self.assertNotEqual(self.complaints("run", sheet), [])
        kit = as_json(DATA / "kits" / "reading-room.toml")
        kit["instrument"][0]["channel"][0]["gives"] = "height"
        self.assertNotEqual(self.complaints("kit", kit), [])


class Install(unittest.TestCase):
    def test_install_puts_everything_where_it_is_looked_for(self):
        with tempfile.TemporaryDirectory() as to:
            subprocess.run([CMAKE, "--install", BUILD, "--prefix", to], check=True, capture_output=True)
            for name in ("bin/hangtrue", "bin/hangtrued", "share/man/man1/hangtrue.1", "share/man/man5/hangtrue-run-sheet.5",
                         "share/man/man5/hangtrue-kit-sheet.5", "share/man/man5/hangtrue-readings.5", "share/man/man7/hangtrue-json.7", "share/man/man8/hangtrued.8", "share/hangtrue/runs/bottle-canopy.toml",
                         "share/hangtrue/kits/reading-room.toml", "share/hangtrue/schemas/run-sheet.schema.json",
                         "share/zsh/vendor-completions/_hangtrue", "share/fish/vendor_completions.d/hangtrue.fish",
                         "libexec/hangtrue/hangtrue-report", "lib/systemd/system/hangtrued@.service", "lib/udev/rules.d/70-hangtrue.rules",
                         "lib/sysusers.d/hangtrued.conf",
                         "share/bash-completion/completions/hangtrue", "share/bash-completion/completions/hangtrued",
                         "share/doc/hangtrue/interfaces.md"):
                self.assertTrue((pathlib.Path(to) / name).is_file(), name)
            for program in ("hangtrue", "hangtrued"):
                said = subprocess.run([f"{to}/bin/{program}", "--version"], capture_output=True, text=True, check=True).stdout
                self.assertRegex(said, rf"^{program} \d+\.\d+\.\d+, commit ")
            done = subprocess.run([f"{to}/bin/hangtrue", "check", f"{to}/share/hangtrue/runs/bottle-canopy.toml"], check=False)
            self.assertEqual(done.returncode, 0)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
