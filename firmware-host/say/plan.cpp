#include "firmware-host/say/plan.hpp"

#include <cctype>
#include <cmath>
#include <cstdlib>
#include <string_view>

#include <fmt/format.h>

#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

using job::UnknownOf;

template <class Words>
std::string listed(const std::vector<job::UnknownId>& unknowns, Words words) {
  std::vector<std::string> parts;
  for (const job::UnknownId& each : unknowns) parts.push_back(words(each));
  return say::listed(parts);
}
std::string as_sentence(std::string text) {
  text[0] = char(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string counted(int count, std::string_view one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

std::string purpose(const sheet::RunSheet& run, const job::PlanWish& wish) {
  const std::string stage = '"' + run.stages[std::size_t(wish.stage)] + '"';
  const std::string wanted = sheet::show_fine(wish.wanted_m, run.show);
  return folded(wish.what == job::PlanFor::levelling
                    ? "Where to read at stage " + stage +
                          ", to know the heights of the finished run (less their mean) to +- " + wanted +
                          ", one standard deviation."
                    : "Where to read at stage " + stage +
                          ", now and at the recheck, to find any support that rose or sank by " + wanted +
                          " in between.");
}

std::string outcome(const sheet::RunSheet& run, const job::Plan& plan) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  const std::string effort = counted(plan.readings, "reading");
  if (plan.wish.what == job::PlanFor::levelling)
    return folded((plan.reached ? "Reached with " + effort + ": +- " + fine(plan.sigma_m)
                                : "Not reached: with " + effort + " +- " + fine(plan.sigma_m)) +
                  " (nothing read: +- " + fine(plan.sigma_before_m) +
                  "; read without end, with this kit and at this stage: +- " + fine(plan.sigma_at_best_m) +
                  ").");
  if (plan.reached)
    return folded("Reached with " + effort + " in each survey: " + fine(plan.certainty_m) + '.');
  return folded("Not reached: with " + effort + " in each survey " +
                (std::isfinite(plan.certainty_m) ? fine(plan.certainty_m) + '.'
                                                 : "some support could move by any size unseen."));
}

std::string stop_line(const sheet::RunSheet& run, const job::PlanStop& stop) {
  std::string channels;
  for (const Channel channel : stop.channels)
    channels += (channels.empty() ? "" : ", ") + std::string(word(channel));
  return column(stop.mark.empty() ? sheet::show_place(stop.at_m, run.show) : "mark " + stop.mark, 18) +
         column(stop.instrument, 24) + column(channels, 14) +
         column(stop.mark.empty() ? std::string(word(stop.edge)) : "", 8) +
         column(stop.stays        ? "stays"
                : stop.both_faces ? "both"
                                  : "",
                7) +
         std::to_string(stop.times) + '\n';
}

std::string walk_view(const sheet::RunSheet& run, const job::Plan& plan) {
  std::string text;
  std::string set_up;
  for (const job::PlanStop& stop : plan.walk) {
    const std::string of = stop.set_up.empty() ? "1" : stop.set_up;
    if (of != set_up) {
      text += text.empty() ? "" : '\n' + folded("Set the laser up anew (set-up " + of + "), then:");
      text += column("at", 18) + column("instrument", 24) + column("read", 14) + column("edge", 8) +
              column("ways", 7) + "times\n";
      set_up = of;
    }
    text += stop_line(run, stop);
  }
  if (plan.closing.empty()) return text;
  text += '\n' + folded("Then close the walk, so that what moved meanwhile shows. Once more:");
  for (const job::PlanStop& stop : plan.closing) text += stop_line(run, stop);
  return text;
}

std::string_view motion(UnknownOf of) {
  return of == UnknownOf::move_rise ? "rise" : of == UnknownOf::move_pitch ? "pitch" : "roll";
}

std::string size(job::QuantityKind kind, double smallest, sheet::Show show) {
  return std::isfinite(smallest) ? value({kind, smallest, 0}, show) : "not seen";
}

std::string movements_view(const sheet::RunSheet& run, const job::Plan& plan) {
  std::string text = '\n' + heading("Smallest movement that two such surveys would show") +
                     column("support", 26) + column("motion", 10) + column("so", 16) +
                     "with two stable marks\n";
  const auto line = [&](const std::string& what, std::string_view how, job::QuantityKind kind,
                        double smallest, double with_two_marks) {
    text += column(what, 26) + column(std::string(how), 10) + column(size(kind, smallest, run.show), 16) +
            size(kind, with_two_marks, run.show) + '\n';
  };
  for (const job::SmallestMovement& each : plan.movements)
    line(each.movement.name, motion(each.movement.of), kind_of(each.movement), each.smallest,
         each.with_two_marks);
  line("the whole run", "rise", job::QuantityKind::height, plan.whole_run_m, plan.whole_run_with_two_marks_m);
  return text + folded(
                    "Found four times in five; chance alone makes a false alarm once in twenty, all that is "
                    "looked at "
                    "together. " +
                    std::string(run.marks.empty() ? "The sheet has no stable mark"
                                                  : "The marks of the sheet are read in each set-up") +
                    "; the two marks would stand one beyond each end, and be read once in each survey.");
}

std::string left_open(const sheet::RunSheet& run, const job::Plan& plan) {
  if (plan.leaves_open.empty()) return {};
  std::string text = '\n' + heading(plan.reached ? "What leaves most open" : "What stands in the way");
  for (const job::LeavesOpen& open : plan.leaves_open)
    text += folded(as_sentence(plain(open.unknown)) + ": if it were known, +- " +
                       sheet::show_fine(open.sigma_after_m, run.show) + '.',
                   2);
  return text;
}

std::string not_told(const job::Plan& plan) {
  if (plan.not_apart.empty() && plan.not_learned.empty()) return {};
  std::string text = '\n' + heading("What these readings cannot tell apart");
  for (const auto& group : plan.not_apart) text += folded(not_apart(group), 2);
  for (const job::NotLearned& group : plan.not_learned) text += folded(not_learned(group), 2);
  return text;
}

}  // namespace

std::string plain(const job::UnknownId& unknown) {
  const std::string& name = unknown.name;
  switch (unknown.of) {
    case UnknownOf::support_rise:
    case UnknownOf::move_rise:
      return "how high " + name + " stands";
    case UnknownOf::support_pitch:
    case UnknownOf::move_pitch:
      return "the pitch of " + name;
    case UnknownOf::support_roll:
    case UnknownOf::move_roll:
      return "the roll of " + name;
    case UnknownOf::spring_rise:
      return "how soft " + name + " is in rise";
    case UnknownOf::spring_pitch:
      return "how soft " + name + " is in pitch";
    case UnknownOf::spring_roll:
      return "how soft " + name + " is in roll";
    case UnknownOf::give_rise:
      return "what " + name + ", called rigid, gives in rise";
    case UnknownOf::give_pitch:
      return "what " + name + ", called rigid, gives in pitch";
    case UnknownOf::give_roll:
      return "what " + name + ", called rigid, gives in roll";
    case UnknownOf::bending:
      return "the stiffness of the run in bending";
    case UnknownOf::torsion:
      return "the stiffness of the run in torsion";
    case UnknownOf::load:
      return "the weight of \"" + name + '"';
    case UnknownOf::unlisted_load:
      return name_of(unknown);
    case UnknownOf::bow:
      return name_of(unknown) + " of the run as made";
    case UnknownOf::datum_height:
      return "the height of set-up " + name;
    case UnknownOf::datum_tilt:
      return "the tilt of the laser's datum in set-up " + name;
    case UnknownOf::zero:
      return "the zero error of " + name_of(job::ChannelId{name, unknown.channel});
    case UnknownOf::mark_height:
      return "the height of mark " + name;
    case UnknownOf::drift_share:
      return name_of(unknown);
  }
  std::abort();  // every enumerator stands above
}

std::string not_apart(const std::vector<job::UnknownId>& unknowns) {
  return as_sentence(listed(unknowns, plain)) + ": only what they do together shows.";
}

std::string not_learned(const job::NotLearned& group) {
  switch (group.why) {
    case job::NotLearnedBecause::not_on_yet:
      return as_sentence(listed(group.unknowns, plain)) + ": not on yet, so taken as the sheet has it.";
    case job::NotLearnedBecause::not_seen:
      return "Hardly learned, so taken as the sheet has it: " +
             listed(group.unknowns, [](const job::UnknownId& each) { return name_of(each); }) + '.';
  }
  std::abort();  // every enumerator stands above
}

std::string plan_view(const sheet::RunSheet& run, const job::Plan& plan) {
  const bool levelling = plan.wish.what == job::PlanFor::levelling;
  return heading(run.title) + purpose(run, plan.wish) + outcome(run, plan) + '\n' + walk_view(run, plan) +
         (levelling ? left_open(run, plan) : movements_view(run, plan)) + not_told(plan) + '\n' +
         folded(
             "All this rests on the run as the sheet predicts it and on the sigmas of sheet and kit. Ways: "
             "both is face 1 and face 2, the instrument turned round.");
}

}  // namespace hangtrue::say
