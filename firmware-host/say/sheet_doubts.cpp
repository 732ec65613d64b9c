#include "firmware-host/say/sheet_doubts.hpp"

#include <cmath>

#include "firmware-host/job/sheet_bounds.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/number.hpp"

namespace hangtrue::say {

namespace {

std::string_view word(job::MaterialSort sort) {
  switch (sort) {
    case job::MaterialSort::wood:
      return "wood";
    case job::MaterialSort::aluminium:
      return "aluminium";
    case job::MaterialSort::steel:
      return "steel";
  }
  return "";
}

// "210 GPa", with what it is of.
std::string as_typed(const job::SheetDoubt& doubt) {
  return doubt.typed.empty() ? "what stands there" : in_quotes(doubt.typed);
}

std::string whole(double value) { return sheet::show_number(value, 0); }

std::string stretch(const sheet::RunSheet& run, const job::SheetDoubt& doubt) {
  return sheet::show_place(doubt.at_m, run.show) + " to " + sheet::show_place(doubt.to_m, run.show);
}

std::string density(double kg_per_m3, sheet::Show show) {
  constexpr double kPound_per_foot3 = 16.018463;  // 0.45359237 kg / (0.3048 m)^3
  return show.is_metric() ? whole(kg_per_m3) + " kg/m3" : whole(kg_per_m3 / kPound_per_foot3) + " lb/ft3";
}

std::string modulus(double E_Pa, sheet::Show show) {
  constexpr double kKsi_Pa = 6894757.293;  // 1,000 lbf on a square inch
  return show.is_metric() ? whole(E_Pa / 1e9) + " GPa" : whole(E_Pa / kKsi_Pa) + " ksi";
}

std::string bands(sheet::Show show) {
  std::string text;
  for (const job::MaterialBand& band : job::kMaterialBands)
    text += (text.empty() ? "" : ", ") + std::string(word(band.sort)) + ' ' + modulus(band.E_least_Pa, show) +
            " to " + modulus(band.E_most_Pa, show);
  return text;
}

std::string spring_words(const sheet::RunSheet& run, const job::SheetDoubt& doubt) {
  const bool soft = doubt.kind == job::SheetDoubtKind::soft_spring;
  constexpr const char* kMotions[] = {"rise", "pitch", "roll"};
  const bool metric = run.show.is_metric();
  const auto shown = [&](double stiffness) {
    // 1 lbf/in and 1 lbf in, from the pound-force and the inch.
    const double unit = doubt.motion == 0 ? (metric ? 1e6 : 175.126835) : (metric ? 1e3 : 0.112984829);
    const double value = stiffness / unit;
    return sheet::show_number(value, value < 10 ? 1 : 0) +
           (doubt.motion == 0 ? (metric ? " kN/mm" : " lbf/in") : (metric ? " kN m/rad" : " lbf in/rad"));
  };
  return "In " + std::string(kMotions[doubt.motion]) + ' ' + in_quotes(doubt.name) + " has " +
         as_typed(doubt) + (soft ? ", softer" : ", stiffer") + " than brackets, posts, rods and lifts are (" +
         shown(doubt.least) + " to " + shown(doubt.most) +
         "; common practice, no source). Is the unit right?";
}

std::string small_angle_words(const sheet::RunSheet& run, const job::SheetDoubt& doubt) {
  using Kind = job::SheetDoubtKind;
  const auto shown = [&](double value) {
    return doubt.kind == Kind::large_height ? sheet::show_length(value, run.show)
                                            : sheet::show_slope(value, run.show);
  };
  const bool up = doubt.value > 0;
  const char* const does = doubt.kind == Kind::large_roll    ? "rolls"
                           : doubt.kind == Kind::large_slope ? (up ? "climbs" : "drops")
                           : up                              ? "rises"
                                                             : "sinks";
  const char* const remedy =
      doubt.kind == Kind::large_roll
          ? "Is it held against roll, on both sides of where its loads lie?"
          : "Is it held where its loads lie, and are supports, section and loads right?";
  return "In stage " + in_quotes(doubt.stage) + " the run " + does + " by " + shown(std::abs(doubt.value)) +
         " at " + sheet::show_place(doubt.at_m, run.show) + ", more than the " + shown(doubt.most) +
         " up to which what is worked out here holds (small angles, no source). " + remedy;
}

}  // namespace

std::string doubt_words(const sheet::RunSheet& run, const job::SheetDoubt& doubt) {
  using Kind = job::SheetDoubtKind;
  const std::string name = in_quotes(doubt.name), stage = in_quotes(doubt.stage);
  const auto length = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  switch (doubt.kind) {
    case Kind::own_weight_not_on:
      return name + " hangs there from the first stage on, but its own weight is not on in " + stage +
             ". List " + name + " among that stage's loads.";
    case Kind::own_weight_dropped:
      return stage + " takes the own weight of " + name + " off, though it still hangs there. List " + name +
             " among that stage's loads.";
    case Kind::own_weight_in_no_stage:
      return "No stage has the own weight of " + name + ". List " + name +
             " among the loads of every stage, from the first on.";
    case Kind::load_in_no_stage:
      return "No stage lists the load " + name +
             ", so that it never counts. List it from the stage on in which it comes on.";
    case Kind::support_in_no_stage:
      return "No stage lists the support " + name + ", so that it never holds anything.";
    case Kind::modulus:
      return "E of " + name + " is " + as_typed(doubt) + ", which none of these has: " + bands(run.show) +
             ". Is the unit right?";
    case Kind::shear_modulus:
      return "G of " + name + ", " + as_typed(doubt) + ", does not go with its E: E / G is " +
             sheet::show_number(doubt.value, 1) + ", that of " + std::string(word(doubt.sort)) + " from " +
             sheet::show_number(doubt.least, 1) + " to " + sheet::show_number(doubt.most, 1) + '.';
    case Kind::density:
      return "The density of " + name + ", " + as_typed(doubt) +
             ", does not go with its E, which is that of " + std::string(word(doubt.sort)) + ": " +
             density(doubt.least, run.show) + " to " + density(doubt.most, run.show) + '.';
    case Kind::slender:
    case Kind::stocky:
      return "The span " + stretch(run, doubt) + " is " +
             sheet::show_number(doubt.value, doubt.value < 10 ? 1 : 0) + " times as long as " + name +
             " is deep, " +
             (doubt.kind == Kind::slender ? "more than " + whole(doubt.most)
                                          : "less than " + whole(doubt.least)) +
             " (common practice, no source). Are its sizes right?";
    case Kind::stress:
      return "In stage " + stage + " the bending stress in " + name + " reaches " +
             sheet::show_stress(doubt.value, run.show) + ", more than the " +
             sheet::show_stress(doubt.most, run.show) + " of common " + std::string(word(doubt.sort)) +
             ". Are section and loads right? This is no design verification.";
    case Kind::deflection:
      return "In stage " + stage + " the stretch " + stretch(run, doubt) + " sags its length / " +
             whole(doubt.value) + ", more than length / " + whole(doubt.least) +
             " (common practice, no source). Are section, modulus and loads right?";
    case Kind::large_roll:
    case Kind::large_slope:
    case Kind::large_height:
      return small_angle_words(run, doubt);
    case Kind::soft_spring:
    case Kind::stiff_spring:
      return spring_words(run, doubt);
    case Kind::coarse_step:
      return "The finest step that " + name + " allows is " + length(doubt.value) +
             ", more than the tolerance of " + length(doubt.most) +
             ". Thinner shims or finer steps will be wanted.";
    case Kind::nothing_to_adjust:
      return "As written the run will not be level (level error " + length(doubt.value) + ", tolerance " +
             length(doubt.most) + "), and nothing can be adjusted at " + name + '.';
    case Kind::kit_too_rough:
      return "This kit tells a height to " + length(doubt.value) + " at best (one sigma); the tolerance is " +
             length(doubt.most) + ". Whether the run is within it will hardly ever be sure.";
  }
  return "";
}

std::string doubts_view(const sheet::RunSheet& run, const std::vector<job::SheetDoubt>& doubts) {
  std::string text;
  for (const job::SheetDoubt& doubt : doubts)
    text += run.file + (doubt.line > 0 ? ':' + std::to_string(doubt.line) : "") + ": " + doubt.key +
            ": doubtful: " + doubt_words(run, doubt) + '\n';
  return text;
}

}  // namespace hangtrue::say
