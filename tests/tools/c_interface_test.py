#!/usr/bin/env python3
"""Another program finds the installed core by find_package(hangtrue), builds the C example with a C compiler, and gets the figures that
`hangtrue predict` gives for the same demo sheet.

    c_interface_test.py HANGTRUE DATA CMAKE BUILD"""

import json
import pathlib
import re
import subprocess
import sys
import tempfile

HANGTRUE, DATA, CMAKE, BUILD = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3], sys.argv[4]
PROJECT = """cmake_minimum_required(VERSION 3.25)
project(another LANGUAGES C CXX)
find_package(hangtrue 0.1 REQUIRED)
add_executable(example example.c)
set_target_properties(example PROPERTIES C_STANDARD 11 C_EXTENSIONS OFF)
target_compile_options(example PRIVATE -Wall -Wextra -Wpedantic -Werror)
target_link_libraries(example hangtrue::c)
add_executable(plus plus.cpp)
target_compile_features(plus PRIVATE cxx_std_20)
target_link_libraries(plus hangtrue::core)
"""
PLUS = """#include "core/beam/section.hpp"
#include <cstdio>
int main() {
  const auto section = hangtrue::beam::solid_rectangle(0.2, 0.1);
  std::printf("%.12g\\n", section.value().second_moment_vertical_m4);
}
"""


def near(found, right, what):
    assert abs(found - right) <= 1e-9 * max(1.0, abs(right)), f"{what}: {found}, but predict says {right}"


with tempfile.TemporaryDirectory() as folder:
    at = pathlib.Path(folder)

    def run(*command):
        done = subprocess.run([str(word) for word in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        assert done.returncode == 0, f"{' '.join(map(str, command))}\n{done.stdout}"
        return done.stdout

    run(CMAKE, "--install", BUILD, "--component", "development", "--prefix", at / "prefix")
    (at / "CMakeLists.txt").write_text(PROJECT)
    (at / "plus.cpp").write_text(PLUS)
    (at / "example.c").write_text((at / "prefix/share/doc/libhangtrue-dev/examples/example.c").read_text())
    run(CMAKE, "-S", at, "-B", at / "build", f"-DCMAKE_PREFIX_PATH={at / 'prefix'}")
    run(CMAKE, "--build", at / "build")
    said = run(at / "build/example")
    near(float(run(at / "build/plus")), 0.1 * 0.2**3 / 12, "b h^3 / 12")

predicted = subprocess.run([HANGTRUE, "predict", DATA / "runs/reading-room-bridge-shelf.toml", "--json"], capture_output=True, text=True, check=False)
stages = json.loads(predicted.stdout)["stages"]
lowest = re.findall(r"^stage (\d+) lowest_m (\S+) lowest_at_m (\S+)$", said, re.MULTILINE)
assert len(lowest) == len(stages) == 5
for stage, height, place in lowest:
    near(float(height), stages[int(stage)]["lowest_m"], f"stage {stage}, lowest")
    assert abs(float(place) - stages[int(stage)]["lowest_at_m"]) < 1e-6
actions = re.findall(r"^stage (\d+) support (\d+) engaged (\d) force_N (\S+) moment_Nm (\S+) torque_Nm (\S+)$", said, re.MULTILINE)
assert len(actions) == 20
for stage, support, engaged, *values in actions:
    right = stages[int(stage)]["supports"][int(support)]
    assert bool(int(engaged)) == right["engaged"]
    for name, value in zip(("force_N", "moment_Nm", "torque_Nm"), values):
        near(float(value), right[name], f"stage {stage}, {right['name']}, {name}")
settled, holds, readings, aside = map(int, re.search(r"^fit settled (\d) holds (\d) readings (\d+) set_aside (\d+)$", said, re.MULTILINE).groups())
assert (settled, holds, readings, aside) == (1, 1, 30, 0), said
rise, sigma, truth = map(float, re.search(r"^fit rise_m (\S+) sigma_m (\S+) truth_m (\S+)$", said, re.MULTILINE).groups())
assert abs(truth) > 0.001 and 0 < sigma < 1e-3 and abs(rise - truth) < 3 * sigma, said
print(said)
