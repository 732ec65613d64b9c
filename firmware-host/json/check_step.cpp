#include "firmware-host/json/check_step.hpp"

#include <string>

#include <nlohmann/json.hpp>

namespace hangtrue::json {
namespace {

const char* word(job::ScaleStep::Action action) {
  using Action = job::ScaleStep::Action;
  switch (action) {
    case Action::piece_under_end:
      return "under the end";
    case Action::piece_under_left:
      return "under the left";
    case Action::higher_place:
      return "higher place";
    case Action::stand:
    case Action::take_piece_out:
    case Action::first_place:
    case Action::first_place_again:
      break;
  }
  return "nothing";
}

}  // namespace

nlohmann::ordered_json check_step(const job::ZeroCheckGuide& guide) {
  const job::ZeroStep next = guide.next().value();
  return {{"step", guide.step() + 1}, {"steps", guide.steps()}, {"face", next.face == 1 ? 1 : -1}};
}

nlohmann::ordered_json check_step(const job::DatumCheckGuide& guide) {
  const job::DatumStep next = guide.next().value();
  return {{"step", guide.step() + 1},
          {"steps", guide.steps()},
          {"set_up", std::to_string(next.set_up)},
          {"at_m", next.at_m}};
}

nlohmann::ordered_json check_step(const job::ScaleCheckGuide& guide) {
  return {{"step", guide.step() + 1},
          {"steps", guide.steps()},
          {"face", 1},
          {"with", word(guide.next().value().action)},
          {"length_m", guide.setting().length_m},
          {"feet_across_m", guide.setting().feet_across_m.value_or(0)}};
}

}  // namespace hangtrue::json
