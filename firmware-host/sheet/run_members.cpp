#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::sheet {

void read_member(RunDraft& draft, Walk& table) {
  Member member;
  member.entry.name = read_name(table, draft.load_names, "a name of its own among members and loads");
  if (const auto stretch = read_stretch(draft, table)) {
    std::tie(member.entry.from_m, member.entry.to_m) = *stretch;
    member.placed = true;
  }
  member.entry.as_one = table.word("acts", optional, {"side by side", "as one"}) == 1;
  if (const auto up = table.quantity("up", Kind::length, member.entry.as_one ? required : optional)) {
    member.entry.up_m = *up;
    if (!member.entry.as_one && !table.has("acts"))
      table.complain("up", "acts = \"as one\" beside it: only then does the height of a centroid count");
  }
  member.weight_sigma = read_relative_sigma(table, "weight_sigma", kDefaultMemberWeightSigma);
  member.across_m = table.quantity("across", Kind::length, optional).value_or(0);
  read_section(draft, table, member);
  table.close();
  draft.members.push_back(std::move(member));
}

void add_own_weights(RunDraft& draft) {
  for (const Member& member : draft.members) {
    if (!member.brings_load()) continue;
    const int load = static_cast<int>(draft.sheet.loads.size());
    LoadEntry entry;
    entry.name = member.entry.name;
    entry.sigma = member.weight_sigma;
    entry.weight_N = member.weight_N_per_m * (member.entry.to_m - member.entry.from_m);
    entry.is_member = true;
    draft.sheet.loads.push_back(entry);
    draft.sheet.load_parts.push_back({load, beam::LoadKind::spread, member.entry.from_m, member.entry.to_m,
                                      member.weight_N_per_m, member.weight_N_per_m, member.across_m});
  }
}

namespace {

struct Stiffness {
  double bending_N_m2 = 0, torsion_N_m2 = 0, shear_N = 0, warping_N_m4 = 0;
};

// A stretch of the run with the members that carry over it.
struct Stretch {
  double from_m = 0, to_m = 0;
  std::vector<const Member*> members;

  [[nodiscard]] bool lies_within(const MemberEntry& member) const {
    return member.from_m <= from_m + kSamePlace_m && member.to_m >= to_m - kSamePlace_m;
  }
  // Neutral height of the members that act as one. `crept`: every E divided by 1 + creep.
  [[nodiscard]] double neutral_up_m(bool crept) const {
    double weight = 0, moment = 0;
    for (const Member* const member : members) {
      if (!member->entry.as_one) continue;
      const double stiffness = member->material->E_Pa * member->area_m2 / (crept ? 1 + member->creep() : 1);
      weight += stiffness;
      moment += stiffness * member->entry.up_m;
    }
    return weight > 0 ? moment / weight : 0;
  }
  // Its part of EI, parallel axis included.
  [[nodiscard]] double bending_share(const Member& member, bool crept) const {
    double bending = member.bending_N_m2;
    if (member.entry.as_one) {
      const double arm = member.entry.up_m - neutral_up_m(crept);
      bending += member.material->E_Pa * member.area_m2 * arm * arm;
    }
    return bending / (crept ? 1 + member.creep() : 1);
  }
  // Where they bend together without twist: the middle of their axes, weighted by what they give to EI.
  [[nodiscard]] double axis_m() const {
    double bending = 0, moment = 0;
    for (const Member* const member : members) {
      bending += bending_share(*member, false);
      moment += bending_share(*member, false) * member->axis_m();
    }
    return moment / bending;
  }
  // The cross-section keeps its shape: rails beside that axis bend against one another where the run twists.
  [[nodiscard]] Stiffness stiffness(bool crept) const {
    Stiffness sum;
    const double axis = axis_m();
    for (const Member* const member : members) {
      const double softer = crept ? 1 + member->creep() : 1;
      sum.bending_N_m2 += bending_share(*member, crept);
      sum.torsion_N_m2 += member->torsion_N_m2 / softer;
      sum.shear_N += member->shear_N / softer;
      const double arm = std::abs(member->axis_m() - axis) > kSamePlace_m ? member->axis_m() - axis : 0;
      sum.warping_N_m4 += member->warping_N_m4 / softer + bending_share(*member, crept) * arm * arm;
    }
    return sum;
  }
  // Depth over which a difference in temperature lies: its own, or of all that act as one with it; 0 where unknown.
  [[nodiscard]] double depth_m(const Member& member) const {
    if (!member.entry.as_one) return member.entry.depth_m;
    double top = -std::numeric_limits<double>::infinity(), bottom = -top;
    for (const Member* const other : members) {
      if (!other->entry.as_one) continue;
      top = std::max(top, other->entry.up_m + other->entry.depth_m / 2);
      bottom = std::min(bottom, other->entry.up_m - other->entry.depth_m / 2);
    }
    return top - bottom;
  }
};

void add_piece(RunDraft& draft, const Stretch& stretch) {
  const Stiffness now = stretch.stiffness(false);
  const Stiffness later = stretch.stiffness(true);
  beam::Piece<double> piece;
  piece.to_m = stretch.to_m;
  piece.bending_N_m2 = now.bending_N_m2;
  piece.torsion_N_m2 = now.torsion_N_m2;
  piece.shear_N = now.shear_N;
  piece.bending_creep = std::max(0.0, now.bending_N_m2 / later.bending_N_m2 - 1);
  piece.torsion_creep = std::max(0.0, now.torsion_N_m2 / later.torsion_N_m2 - 1);
  piece.warping_N_m4 = now.warping_N_m4;
  if (now.warping_N_m4 > 0) piece.warping_creep = std::max(0.0, now.warping_N_m4 / later.warping_N_m4 - 1);
  piece.shear_creep = std::isfinite(now.shear_N) ? std::max(0.0, now.shear_N / later.shear_N - 1) : 0;
  draft.sheet.pieces.push_back(piece);
  for (const Member* const member : stretch.members) {
    if (member->entry.section_modulus_m3 <= 0) continue;
    const double arm = member->entry.as_one ? std::abs(member->entry.up_m - stretch.neutral_up_m(false)) : 0;
    const double outermost = arm + member->second_moment_m4 / member->entry.section_modulus_m3;
    const double stress = member->material->E_Pa * outermost;
    const double beside = member->axis_m() - stretch.axis_m();
    draft.sheet.bending_stresses.push_back({static_cast<int>(member - draft.members.data()), stretch.from_m,
                                            stretch.to_m, stress / now.bending_N_m2,
                                            now.warping_N_m4 > 0 ? stress * beside / now.warping_N_m4 : 0});
  }
}

// All stretches bend about one axis; elsewhere what lies beside it would bend the run where it twists, which is not modelled.
void find_axis(RunDraft& draft, const std::vector<Stretch>& stretches, Walk& top) {
  const Stretch& first = stretches.front();
  double sum = 0;
  for (const Stretch& stretch : stretches) {
    sum += stretch.axis_m() * (stretch.to_m - stretch.from_m);
    if (std::abs(stretch.axis_m() - first.axis_m()) <= kSameAxis_m) continue;
    const auto show = draft.sheet.show;
    top.complain(
        "member",
        "members whose stiffness lies " + show_length(first.axis_m(), show) +
            " across at the start mark and " + show_length(stretch.axis_m(), show) + " from " +
            show_place(stretch.from_m, show) + " on",
        "members beside the middle over the whole run, or as pairs about the same middle; the weight of a "
        "shorter one beside it as a [[load]]");
    return;
  }
  const double axis = sum / stretches.back().to_m;
  draft.sheet.shear_centre_m = std::abs(axis) > kSamePlace_m ? axis : 0;
}

// Each member alone would take alpha * dT / depth; together they take the mean, weighted by what they give to EI.
void add_warmth(RunDraft& draft, const std::vector<Stretch>& stretches, const Warmth& warmth) {
  for (const Stretch& stretch : stretches) {
    beam::LoadPart<double> part;
    part.load = warmth.load;
    part.kind = beam::LoadKind::warmth;
    part.from_m = std::max(stretch.from_m, warmth.from_m);
    part.to_m = std::min(stretch.to_m, warmth.to_m);
    if (part.to_m <= part.from_m + kSamePlace_m) continue;
    double bending = 0, moment = 0;
    for (const Member* const member : stretch.members) {
      const double share = stretch.bending_share(*member, false);
      const double depth = warmth.depth_m ? *warmth.depth_m : stretch.depth_m(*member);
      bending += share;
      moment += share * *member->material->expansion_per_K * warmth.warmer_below_K / depth;
    }
    part.begin = part.end = moment / bending;
    draft.sheet.load_parts.push_back(part);
  }
}

}  // namespace

void build_pieces(RunDraft& draft, Walk& top) {
  if (!draft.length_m || draft.members.empty() ||
      !std::all_of(draft.members.begin(), draft.members.end(), [](const Member& m) { return m.placed; }))
    return;
  std::vector<double> places = {0, *draft.length_m};
  for (const Member& member : draft.members) {
    places.push_back(member.entry.from_m);
    places.push_back(member.entry.to_m);
  }
  std::sort(places.begin(), places.end());
  places.erase(
      std::unique(places.begin(), places.end(), [](double a, double b) { return b - a < kSamePlace_m; }),
      places.end());
  places.back() = *draft.length_m;

  std::vector<Stretch> stretches;
  for (std::size_t i = 1; i < places.size(); ++i) {
    Stretch stretch{places[i - 1], places[i], {}};
    for (const Member& member : draft.members)
      if (stretch.lies_within(member.entry)) stretch.members.push_back(&member);
    if (stretch.members.empty())
      top.complain("member",
                   "nothing that carries from " + show_length(stretch.from_m, draft.sheet.show) + " to " +
                       show_length(stretch.to_m, draft.sheet.show),
                   "a [[member]] over every stretch of the run");
    stretches.push_back(std::move(stretch));
  }
  if (!draft.sink.complaints.empty()) return;
  find_axis(draft, stretches, top);
  for (const Stretch& stretch : stretches) add_piece(draft, stretch);
  for (const Warmth& warmth : draft.warmths) add_warmth(draft, stretches, warmth);
  for (const Member& member : draft.members) {
    draft.sheet.members.push_back(member.entry);
    draft.sheet.members.back().axis_m = member.axis_m();
  }
}

}  // namespace hangtrue::sheet
