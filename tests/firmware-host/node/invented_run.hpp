// invented_run.hpp: a run with as many stations as a node holds, and readings of it, for the emulated board and for the host alike.
#pragma once

#include <cmath>

#include "core/survey/reading.hpp"
#include "firmware-host/node/packed_run.hpp"

namespace hangtrue::node::test {

/// An invented shelf on three supports, 24 stations, 23 unknowns.
inline void fill(node::PackedRun& run) {
  run = {};
  run.length_m = 4.2F;
  run.width_m = 0.38F;
  run.bows = 3;
  run.stage = 0;
  run.finished_stage = 1;
  run.tolerance_m = 1.5e-3F;
  run.pieces.count = 1;
  run.pieces.entry[0] = {4.2F, 150e3F, 90e3F, 40e6F};
  run.supports.count = 3;
  const float places[] = {0.0F, 2.0F, 4.0F};
  for (int i = 0; i < 3; ++i) {
    beam::Support<float>& support = run.supports.entry[std::size_t(i)];
    support.at_m = places[i];
    support.rise = {true, 1e-7F, false};
    if (i == 0) support.pitch = {true, 5e-5F, false};
    support.roll = {true, 1e-5F, false};
    node::PackedAdjust& adjust = run.adjust[std::size_t(i)];
    adjust.by = std::uint8_t(i == 0   ? 0
                             : i == 1 ? 3
                                      : 2);  // one stays, or the choice would be free up to a common rise
    adjust.rise_from_m = -0.01F;
    adjust.rise_to_m = 0.01F;
    adjust.step_m = i == 1 ? 0.5e-3F : 0.4375e-3F;
    adjust.step_turns = 0.25F;
  }
  run.load_factor.count = 3;
  run.load_parts.count = 3;
  for (int l = 0; l < 3; ++l) {
    run.load_factor.entry[std::size_t(l)] = 1;
    run.load_parts.entry[std::size_t(l)] = {
        l, beam::LoadKind::spread, 0, 4.2F, 60.0F + 40 * float(l), 60.0F + 40 * float(l), 0.01F * float(l)};
  }
  run.stages.count = 2;
  run.stages.entry[0] = {7, 3};
  run.stages.entry[1] = {7, 7};
  run.stations_m.count = 24;
  for (int s = 0; s < 24; ++s) run.stations_m.entry[std::size_t(s)] = 0.1F + 4.0F * float(s) / 23;
  const auto unknown = [&run](fit::Unknown what, float mean, float sigma) {
    run.unknowns.entry[std::size_t(run.unknowns.count++)] = {what, {mean, sigma}};
  };
  for (std::int16_t i = 0; i < 3; ++i) {
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::offset_rise, i}}, 0, 5e-3F);
    if (i == 0) unknown({fit::UnknownKind::shape, {beam::ParameterKind::offset_pitch, i}}, 0, 3e-3F);
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::offset_roll, i}}, 0, 3e-3F);
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::spring_rise, i}}, 0, 0.3F);
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::spring_roll, i}}, 0, 0.3F);
  }
  unknown({fit::UnknownKind::shape, {beam::ParameterKind::bending, 0}}, 1, 0.05F);
  unknown({fit::UnknownKind::shape, {beam::ParameterKind::torsion, 0}}, 1, 0.1F);
  for (std::int16_t i = 0; i < 3; ++i)
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::load, i}}, 1, 0.05F);
  for (std::int16_t i = 0; i < 3; ++i)
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::bow, i}}, 0, 1e-3F / float((i + 1) * (i + 1)));
  unknown({fit::UnknownKind::zero, {}, 0}, 0, 0.3e-3F);
  unknown({fit::UnknownKind::zero, {}, 1}, 0, 0.3e-3F);
  run.zero.count = 2;
  run.base_m = 0.25F;
}

/// What the instruments would read of a run that is not as the sheet has it: smooth, and nothing else.
inline survey::Reading<float> reading(const node::PackedRun& run, int i) {
  survey::Reading<float> reading;
  const int station = (i / 2) % run.stations_m.count;
  reading.at_m = run.stations_m.entry[std::size_t(station)];
  reading.channel = i % 2 == 0 ? Channel::slope : Channel::roll;
  reading.base_m = i % 2 == 0 ? run.base_m : 0;
  reading.zero = std::int16_t(i % 2);
  reading.sigma = 20e-6F;
  const float x = reading.at_m;
  reading.value = i % 2 == 0 ? 0.4e-3F * std::cos(1.5F * x) + 0.2e-3F : 0.3e-3F - 0.1e-3F * x;
  return reading;
}

}  // namespace hangtrue::node::test
