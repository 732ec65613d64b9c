#include "firmware-host/json/check_step.hpp"

#include <string>

#include <nlohmann/json.hpp>

namespace hangtrue::json {

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

}  // namespace hangtrue::json
