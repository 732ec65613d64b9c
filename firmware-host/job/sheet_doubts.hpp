// sheet_doubts.hpp: what of a run sheet can hardly be meant, though it can be worked with. Shown before it is believed; never in
// the way.
//
// Asked     own weights: on wherever their member hangs; loads and supports: in some stage; materials: a modulus and a density
//           that wood, aluminium or steel have; members: depth and stress; spans: sag; the whole: roll, slope and height; springs; steps against the tolerance;
//           supports at which nothing can be adjusted, where the run will not be level as written; the tolerance against the kit.
// Not asked what only a person knows: whether a load is as heavy as it says.
// Units     SI.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/sheet_lines.hpp"

namespace hangtrue::job {

enum class SheetDoubtKind : std::uint8_t {
  own_weight_not_on,       // name: the member; stage: the first
  own_weight_dropped,      // name: the member; stage: that lists it no longer
  own_weight_in_no_stage,  // name: the member
  load_in_no_stage,        // name
  support_in_no_stage,     // name
  modulus,                 // name: the material
  shear_modulus,           // value: E / G; least, most
  density,                 // least, most: of what has such a modulus, kg/m3
  slender,                 // name: the member; value: span / depth; most
  stocky,                  // name: the member; value: span / depth; least
  stress,                  // name: the member; stage; value, most: Pa
  deflection,              // stage; at, to: the span; value: span / sag; least
  large_roll,              // stage; at; value: the roll, rad; most
  large_slope,             // likewise, dz/dx
  large_height,            // stage; at; value: the height, m; most
  soft_spring,             // name: the support; value, least, most: N/m or N m/rad
  stiff_spring,            // likewise
  coarse_step,             // name: the stock or the support; value: the finest step, m; most: the tolerance
  nothing_to_adjust,       // name: the support; value: the level error as written, most: the tolerance, m
  kit_too_rough,           // value: what the kit tells of a height at best, m; most: the tolerance
};

/// Of what a modulus may be.
enum class MaterialSort : std::uint8_t { wood, aluminium, steel };

struct SheetDoubt {
  SheetDoubtKind kind{};
  std::string key;    // "material.steel.E"; of the run sheet
  int line = 0;       // 0: not known
  std::string typed;  // the value of the key, as the sheet has it; may be empty
  std::string name, stage;
  double value = 0, least = 0, most = 0;
  double at_m = 0, to_m = 0;
  MaterialSort sort{};  // density, shear modulus, stress: of what has such a modulus
  int motion = 0;       // springs: 0 rise, 1 pitch, 2 roll
};

/// In the order of the sheet's lines. `solved`: of that run, without trouble.
[[nodiscard]] std::vector<SheetDoubt> sheet_doubts(const sheet::RunSheet& run, SolvedRun& solved,
                                                   const sheet::SheetLines& lines);

/// What this kit cannot tell.
[[nodiscard]] std::vector<SheetDoubt> kit_doubts(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                                 const sheet::SheetLines& lines);

}  // namespace hangtrue::job
