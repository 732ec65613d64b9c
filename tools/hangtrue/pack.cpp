// hangtrue pack RUN.toml KIT.toml -o RUN.htr [--stage NAME]: the run as compact bytes, for an instrument node.
#include <iostream>
#include <memory>
#include <string_view>

#include <CLI/CLI.hpp>

#include "firmware-host/job/plan.hpp"
#include "tools/hangtrue/new_file.hpp"
#include "tools/hangtrue/packing.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct PackArguments {
  std::string run, kit, stage, out;
  bool force = false;
};

std::string of(int count, int most, const char* what) {
  return std::to_string(count) + " of " + std::to_string(most) + ' ' + what;
}

}  // namespace

void add_pack(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand(
      "pack", "the run for an instrument node, which fits its own readings and makes the card");
  const auto arguments = std::make_shared<PackArguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML)")->required();
  command->add_option("KIT", arguments->kit, "the kit sheet (TOML), with the node as an instrument");
  command->add_option("-o,--out", arguments->out, "the file to write, such as run.htr")->required();
  command->add_option("--stage", arguments->stage,
                      "the stage to read at; unless said the first with the finished run's supports");
  command->add_flag("--force", arguments->force, "write over an existing file");
  command->callback([arguments, &exit_code] {
    const sheet::RunSheet run = load_run(arguments->run);
    if (arguments->kit.empty())
      stop_for({{"command line", 0, "KIT", "no kit sheet",
                 "the node's base, sigma and zero errors: a kit sheet after the run sheet"}});
    const sheet::KitSheet kit = load_kit(arguments->kit, run);
    const int stage = arguments->stage.empty() ? job::planned_stage(run, job::PlanFor::levelling)
                                               : stage_named(run, arguments->stage, arguments->run);
    const PackedOrComplaints made = pack_for_node(run, kit, stage);
    if (!made.packed) stop_for(made.complaints);
    check_place(arguments->out, "", arguments->force);
    const Packed& packed = *made.packed;
    NewFile file(arguments->out);
    file.write({reinterpret_cast<const char*>(packed.bytes.data()), packed.bytes.size()});
    file.keep(arguments->force);
    for (const std::string& remark : packed.remarks) std::cerr << "Note: " << remark << '\n';
    std::cout << arguments->out << ": " << packed.bytes.size() << " bytes, to be read at stage \""
              << run.stages[std::size_t(stage)] << "\"; "
              << of(packed.run.supports.count, node_limits::kSupports, "supports, ")
              << of(packed.run.stages.count, node_limits::kStages, "stages, ")
              << of(packed.run.stations_m.count, node_limits::kStations, "stations, ")
              << of(packed.run.unknowns.count, node_limits::kUnknowns, "unknowns\n");
    exit_code = kDone;
  });
}

}  // namespace hangtrue::tools
