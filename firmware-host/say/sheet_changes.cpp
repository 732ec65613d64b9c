#include "firmware-host/say/sheet_changes.hpp"

#include <cmath>
#include <cstdlib>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "core/quantity/units.hpp"
#include "firmware-host/say/cases.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

using job::EntryOf;
using job::Property;
using sheet::Show;
using Shower = std::string (*)(double, Show);

std::string significant(double value, int count, Show show) {
  return sheet::with_decimal_sign(fmt::format("{:.{}g}", value, count), show.language);
}
// Four digits at least, without an exponent where it is large.
std::string four_digits(double value, Show show) {
  return std::abs(value) >= 1e4 ? fmt::format("{:.0f}", value) : significant(value, 4, show);
}

std::string weight(double weight_N, Show show) {
  return sheet::show_force(weight_N, show) + " (" + sheet::show_mass(weight_N / kGravity_m_per_s2, show) +
         ")";
}
std::string stiffness(double stiffness_N_per_m, Show show) {
  return show.is_metric() ? four_digits(stiffness_N_per_m * 1e-6, show) + " kN/mm"
                          : four_digits(stiffness_N_per_m * kInch_m / kPoundForce_N, show) + " lbf/in";
}
std::string turning_stiffness(double stiffness_Nm_per_rad, Show show) {
  return show.is_metric()
             ? four_digits(stiffness_Nm_per_rad * 1e-3, show) + " kN m/rad"
             : four_digits(stiffness_Nm_per_rad / (kPoundForce_N * kInch_m), show) + " lbf in/rad";
}
std::string plain(double value, Show show) { return significant(value, 4, show); }

// How numbers of a property are shown, the coarsest way first; and their SI unit, where nothing coarser tells them apart.
struct Shown {
  std::vector<Shower> ways;
  std::string_view unit;
};
Shown shown(Property property) {
  switch (property) {
    case Property::length:
    case Property::width:
    case Property::begin:
    case Property::end:
    case Property::place:
      return {{sheet::show_place, sheet::show_length, sheet::show_fine}, " m"};
    case Property::level:
    case Property::centroid_height:
    case Property::depth:
    case Property::place_across:
    case Property::bow:
    case Property::datum_height:
      return {{sheet::show_length, sheet::show_fine}, " m"};
    case Property::datum_tilt:
      return {{sheet::show_slope}, " rad"};
    case Property::couple:
      return {{sheet::show_couple}, " N m"};
    case Property::weight:
      return {{weight}, " N"};
    case Property::rise:
      return {{stiffness}, " N/m"};
    case Property::pitch:
    case Property::roll:
      return {{turning_stiffness}, " N m/rad"};
    default:
      return {{plain}, ""};
  }
}

// Stiffness of members has no unit that a reader would know it by.
bool is_shown_as_ratio(Property property) {
  return property == Property::bending_stiffness || property == Property::torsion_stiffness ||
         property == Property::shear_stiffness || property == Property::section_modulus;
}

std::string_view word(EntryOf of) {
  switch (of) {
    case EntryOf::run:
      return "run";
    case EntryOf::tolerance:
      return "tolerance";
    case EntryOf::prior:
      return "prior";
    case EntryOf::member:
    case EntryOf::stretch:
      return "member";
    case EntryOf::load:
      return "load";
    case EntryOf::support:
      return "support";
    case EntryOf::stage:
      return "stage";
    case EntryOf::mark:
      return "mark";
    case EntryOf::stock:
      return "stock";
  }
  std::abort();  // every enumerator stands above
}

std::string named(const job::SheetEntry& entry, Show show) {
  return text(show, "{} \"{}\"", said(show, word(entry.of)), entry.name);
}

// What stands before a property: "support \"east rod\": ".
std::string before(const job::SheetEntry& entry, Show show) {
  switch (entry.of) {
    case EntryOf::run:
      return "";
    case EntryOf::tolerance:
    case EntryOf::prior:
      return said(show, word(entry.of)) + ": ";
    case EntryOf::stretch:
      return text(show, "members from {} to {}: ", sheet::show_place(entry.from_m, show),
                  sheet::show_place(entry.to_m, show));
    default:
      return named(entry, show) + ": ";
  }
}

std::string_view word(Property property) {
  switch (property) {
    case Property::entry:
      return "";
    case Property::title:
      return "title";
    case Property::units:
      return "show";
    case Property::length:
      return "length";
    case Property::width:
      return "width";
    case Property::station_count:
      return "number of stations";
    case Property::station_places:
      return "stations stand at other places";
    case Property::level:
      return "level";
    case Property::finished_stage:
      return "finished stage";
    case Property::confidence:
      return "confidence";
    case Property::span_ratio:
      return "the limit of span over sag has changed";
    case Property::target_height:
      return "target height has changed";
    case Property::bending_stiffness:
      return "bending stiffness";
    case Property::torsion_stiffness:
      return "torsion stiffness";
    case Property::shear_stiffness:
      return "shear stiffness";
    case Property::warping_stiffness:
      return "stiffness against warping has changed";
    case Property::bending_creep:
      return "creep in bending";
    case Property::torsion_creep:
      return "creep in torsion";
    case Property::shear_creep:
      return "creep in shear";
    case Property::as_one:
      return "acts";
    case Property::centroid_height:
      return "height of its centroid";
    case Property::material:
      return "material";
    case Property::depth:
      return "depth";
    case Property::section_modulus:
      return "section modulus";
    case Property::begin:
      return "begin";
    case Property::end:
      return "end";
    case Property::place:
      return "place";
    case Property::place_across:
      return "place across";
    case Property::sigma:
      return "sigma";
    case Property::lasting_share:
      return "lasting share";
    case Property::kind:
      return "kind";
    case Property::warmth:
      return "the curvature by warmth has changed, or where it acts";
    case Property::distribution:
      return "is shared out otherwise along its stretch";
    case Property::couple:
      return "couple";
    case Property::weight:
      return "weight";
    case Property::rise:
      return "rise";
    case Property::pitch:
      return "pitch";
    case Property::roll:
      return "roll";
    case Property::warping:
      return "whether it holds the warping has changed";
    case Property::holds:
      return "holds";
    case Property::adjustment:
      return "the way to adjust it has changed";
    case Property::rating:
      return "rating has changed";
    case Property::growth:
      return "what its rod or post grows by in the warmth has changed";
    case Property::assumed:
      return "what is assumed of it beforehand (prior) has changed";
    case Property::bending:
      return "bending";
    case Property::torsion:
      return "torsion";
    case Property::bow:
      return "bow";
    case Property::bow_count:
      return "number of bow shapes";
    case Property::datum_height:
      return "datum height";
    case Property::datum_tilt:
      return "datum tilt";
    case Property::pieces:
      return "pieces or limits of a stack have changed";
  }
  std::abort();  // every enumerator stands above
}

std::string differ(std::string_view was, std::string_view is, Show show) {
  return text(show, " was {}, is {}", was, is);
}

// Shown as coarsely as still tells the two apart, and with all digits where nothing coarser does.
std::string numbers(Property property, const job::Numbers& of, Show show) {
  if (is_shown_as_ratio(property)) {
    if (!std::isfinite(of.was) || !std::isfinite(of.is) || !(of.was > 0)) return said(show, " has changed");
    const double times = of.is / of.was;
    return text(show, " is {} times what it was",
                significant(times, std::abs(times - 1) < 1e-3 ? 10 : 4, show));
  }
  const auto [ways, unit] = shown(property);
  for (const Shower way : ways) {
    const std::string was = way(of.was, show), is = way(of.is, show);
    if (was != is) return differ(was, is, show);
  }
  return differ(fmt::format("{}{}", significant(of.was, 12, show), unit),
                fmt::format("{}{}", significant(of.is, 12, show), unit), show);
}

std::string restraints(Property property, const job::Restraints& of, Show show) {
  const auto sprung = [](const beam::Restraint<double>& each) { return each.held && each.compliance > 0; };
  if (sprung(of.was) && sprung(of.is))
    return numbers(property, {1 / of.was.compliance, 1 / of.is.compliance}, show);
  const auto held = [&](const beam::Restraint<double>& each) -> std::string {
    return !each.held      ? said(show, "free")
           : !sprung(each) ? said(show, "rigid")
                           : shown(property).ways.front()(1 / each.compliance, show);
  };
  return differ(held(of.was), held(of.is), show);
}

std::string_view word(beam::LoadKind kind) {
  switch (kind) {
    case beam::LoadKind::spread:
      return "weight along a stretch";
    case beam::LoadKind::point:
      return "weight at a point";
    case beam::LoadKind::couple:
      return "a couple";
    case beam::LoadKind::warmth:
      return "warmth";
  }
  std::abort();  // every enumerator stands above
}
std::string_view word(beam::Holds holds) {
  switch (holds) {
    case beam::Holds::both:
      return "\"both\"";
    case beam::Holds::push:
      return "\"push\"";
    case beam::Holds::pull:
      return "\"pull\"";
  }
  std::abort();  // every enumerator stands above
}
std::string_view word(Show show) { return show.is_metric() ? "metric" : "imperial"; }

}  // namespace

std::string words(const job::SheetChange& change, Show show) {
  const job::SheetEntry& entry = change.entry;
  const std::string what = before(entry, show) + said(show, word(change.property));
  const auto other = [&](std::string_view was, std::string_view is) {
    return what + differ(said(show, was), said(show, is), show);
  };
  return std::visit(
      Cases{[&](job::Removed) { return text(show, "{} was removed", named(entry, show)); },
            [&](job::Added) { return text(show, "{} was added", named(entry, show)); },
            [&](job::Reordered) {
              return entry.of == EntryOf::stage
                         ? said(show, "the stages come in another order")
                         : text(show, "the {}s are listed in another order", said(show, word(entry.of)));
            },
            [&](job::Altered) { return what; },
            [&](const job::Numbers& how) { return what + numbers(change.property, how, show); },
            [&](const job::Counts& how) {
              return what + differ(std::to_string(how.was), std::to_string(how.is), show);
            },
            [&](const job::Names& how) { return what + differ(in_quotes(how.was), in_quotes(how.is), show); },
            [&](const job::Units& how) { return other(word(how.was), word(how.is)); },
            [&](const job::ActsAsOne& how) {
              return what + said(show, how.now ? " as one with others now, was side by side"
                                               : " side by side now, was as one with others");
            },
            [&](const job::LoadKinds& how) { return other(word(how.was), word(how.is)); },
            [&](const job::Restraints& how) { return what + restraints(change.property, how, show); },
            [&](const job::PulledHome& how) {
              return what + said(show, how.now ? " is pulled home now" : " is no longer pulled home");
            },
            [&](const job::HoldsWays& how) { return other(word(how.was), word(how.is)); },
            [&](const job::Lists& how) {
              return how.now ? text(show, "{}lists {}", what, named(how.what, show))
                             : text(show, "{}no longer lists {}", what, named(how.what, show));
            }},
      change.how);
}

}  // namespace hangtrue::say
