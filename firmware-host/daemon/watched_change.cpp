#include "firmware-host/daemon/watched_change.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/live_target.hpp"
#include "firmware-host/say/unknown.hpp"

namespace hangtrue::daemon {
namespace {

const job::StoredMove* move_of(const MovesOnJob::OnJob& on_job, int order) {
  if (!on_job.card) return nullptr;
  const auto& moves = on_job.card.value().moves;
  const auto found =
      std::find_if(moves.begin(), moves.end(), [&](const auto& each) { return each.order == order; });
  return found == moves.end() ? nullptr : &*found;
}

}  // namespace

std::optional<Answer> WatchedChange::stands_against(const char* command) const {
  if (!watching_) return std::nullopt;
  return refused(
      command,
      watching_->what + sheets_.told(" is under watch, and the instruments must stay as they are; watch "
                                     "off ends that"));
}

Told WatchedChange::named(const job::ChannelId& channel) const {
  return sheets_.both([&](const sheet::RunSheet& run) { return say::name_words(channel, run.show); });
}

/// Every channel that speaks and has settled, where it stands.
Result<std::vector<job::WatchedChannel>, Told> WatchedChange::settled() const {
  std::vector<job::WatchedChannel> channels;
  Told unsettled;
  const Place& place = stand_.now();
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    if (!instruments_.state(i).speaks) continue;
    for (const InstrumentLine::LiveChannel& channel : instruments_.line(i).channels()) {
      if (!channel.is_reading() || (channel.walks() && (!place.at_m || !place.mark.empty()))) continue;
      const auto value = channel.settling.value(std::uint64_t(now_us()));
      if (!value.ok()) {
        unsettled += (unsettled.empty() ? "" : ", ") +
                     named(job::ChannelId{instruments_.kit(i).name, channel.kit->gives});
        continue;
      }
      job::WatchedChannel each{{instruments_.kit(i).name, channel.kit->gives}, {}};
      each.place.channel = channel.kit->gives;
      each.place.base_m = channel.kit->base_m;
      each.place.at_m = channel.kit->station_m.value_or(place.at_m.value_or(0));
      each.place.edge = channel.walks() ? place.edge.value_or(channel.kit->edge) : channel.kit->edge;
      each.place.face =
          std::int8_t(channel.walks() && channel.kit->gives != Channel::distance ? place.face : 1);
      each.place.value = value.value().mean;
      each.place.sigma = value.value().sigma;
      channels.push_back(std::move(each));
    }
  }
  if (!unsettled.empty()) return sheets_.told("wait until these have settled: ") + unsettled;
  if (channels.empty())
    return sheets_.told(
        "no instrument speaks that stands on the run; say first where it stands, such as station 1");
  return channels;
}

std::optional<job::MoveToMake> WatchedChange::move_to_make(int order,
                                                           std::vector<beam::Motions<double>>& made) const {
  const auto& on_job = moves_.on_job();
  if (!on_job || !on_job->card) return std::nullopt;
  made.assign(sheets_.run.supports.size(), {});
  for (const int each : on_job->made)
    if (const job::StoredMove* const move = move_of(*on_job, each))
      if (const int support = sheets_.run.support(move->support); support >= 0)
        made[std::size_t(support)] = {move->rise_m, move->pitch_rad, move->roll_rad};
  const job::StoredMove* const move = move_of(*on_job, order);
  if (move == nullptr || move->when_stage || sheets_.run.support(move->support) < 0) return std::nullopt;
  return job::MoveToMake{
      made, sheets_.run.support(move->support), {move->rise_m, move->pitch_rad, move->roll_rad}};
}

Answer WatchedChange::begin(const Watch& what) {
  if (const auto no = stands_against("watch")) return *no;
  if (!survey_.no_fit().empty()) return refused("watch", survey_.no_fit());
  if (survey_.readings() == 0)
    return refused("watch",
                   sheets_.told("nothing has been read in this survey, so nothing can be predicted"));
  auto channels = settled();
  if (!channels.ok()) return refused("watch", channels.fault());
  const auto target = [&](Result<job::LiveTarget, job::Fault> made, Watching watching) {
    if (!made) return refused("watch", sheets_.told(made.fault()));
    watching.target = std::move(made).value();
    watching_ = std::move(watching);
    look();
    Answer answer =
        answered(Event::watch, watching_->what + sheets_.told(" begins under watch of {} channels",
                                                              watching_->target.watched().size()));
    return answer;
  };
  const auto watching = [](Told words) {
    Watching begun;
    begun.what = std::move(words);
    return begun;
  };
  if (!what.order) {
    const auto next = std::size_t(survey_.stage()) + 1;
    if (next >= sheets_.run.stages.size()) return refused("watch", sheets_.told("this is the last stage"));
    if (const auto no = moves_.stand_against("watch")) return *no;
    return target(job::target_of_next_stage(survey_.session(), std::move(channels).value()),
                  watching(sheets_.told("stage {}", sheets_.run.stages[next])));
  }
  if (!moves_.are_being_made())
    return refused("watch", sheets_.told("moves are not being made; begin moves first"));
  std::vector<beam::Motions<double>> made;
  const auto move = move_to_make(*what.order, made);
  if (!move) return refused("watch", sheets_.told("the card has no move {} for this stage", *what.order));
  const auto& ticked = moves_.on_job()->made;
  if (std::find(ticked.begin(), ticked.end(), *what.order) != ticked.end())
    return refused("watch", sheets_.told("move {} is ticked as made already", *what.order));
  const job::StoredMove& stored = *move_of(*moves_.on_job(), *what.order);
  Watching begun = watching(sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, "move {}: {}, {}", stored.order, stored.support,
                     say::motion_words(stored.rise_m, stored.pitch_rad, stored.roll_rad, run.show));
  }));
  begun.order = stored.order;
  begun.turns = stored.turns;
  return target(job::target_of_move(survey_.session(), *move, std::move(channels).value()), std::move(begun));
}

Answer WatchedChange::end() {
  if (!watching_) return refused("watch", sheets_.told("nothing is under watch"));
  ended("left before its end");
  return answered(Event::watch, sheets_.told("off"));
}

void WatchedChange::ended(const std::string& how) {
  if (!watching_) return;
  look();
  std::string note = watching_->what.text + " under watch, " + how + ": ";
  note += watching_->seen ? say::target_record(sheets_.run, watching_->target, *watching_->seen)
                          : "nothing was seen";
  if (!watching_->silent.empty())
    note += "; then " + watching_->silent.text + " fell silent, and nothing is known of what came after";
  if (watching_->stop_said) note += "; \"stop\" was said on the way";
  announcer_.say(Event::watch, note);
  watching_.reset();
  // A book that cannot be written is said by on_trouble.
  (void)log_.append({book::Note{note}}).ok();
}

void WatchedChange::look() {
  if (!watching_) return;
  std::vector<job::ReadsNow> reads;
  bool at_rest = true;
  const std::string before_silent = std::exchange(watching_->silent, {}).text;
  for (const job::WatchedChannel& watched : watching_->target.watched()) {
    const auto seen = reads_now(watched.channel);
    if (seen) reads.push_back(seen->reads);
    at_rest = at_rest && seen && seen->at_rest;
    if (!seen) watching_->silent += (watching_->silent.empty() ? "" : ", ") + named(watched.channel);
  }
  if (!watching_->silent.empty()) {
    watching_->now.reset();
    if (watching_->silent.text != before_silent) tell();
    return;
  }
  const auto before = watching_->now ? std::optional(watching_->now->verdict) : std::nullopt;
  watching_->now = watching_->target.look(reads);
  // While it still moves the reading is known so roughly that it may lie within its own band.
  if (!at_rest && watching_->now->verdict == job::TargetVerdict::done)
    watching_->now->verdict = job::TargetVerdict::on_the_way;
  watching_->seen = watching_->now;
  watching_->stop_said = watching_->stop_said || watching_->now->verdict == job::TargetVerdict::stop;
  if (!before_silent.empty())
    announcer_.say(Event::watch, before_silent + " speaks again: where it was moved or knocked meanwhile, " +
                                     "end this with watch off, and read again");
  if (before != watching_->now->verdict || now_us() - watching_->told_us >= kWatchTold_us) tell();
}

/// None: that channel is silent.
std::optional<WatchedChange::SeenNow> WatchedChange::reads_now(const job::ChannelId& id) const {
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    if (instruments_.kit(i).name != id.instrument) continue;
    for (const InstrumentLine::LiveChannel& channel : instruments_.line(i).channels())
      if (channel.kit->gives == id.channel)
        if (const auto recent = InstrumentLine::recent(channel, now_us()))
          return SeenNow{{recent->mean, std::hypot(channel.kit->sigma, recent->spread)},
                         channel.settling.verdict(std::uint64_t(now_us())) == survey::Verdict::settled};
  }
  return std::nullopt;
}

void WatchedChange::tell() {
  watching_->told_us = now_us();
  if (!watching_->now) {
    announcer_.say(
        Event::watch,
        "Nothing is known: " + watching_->silent.text + " is silent. Touch nothing until it speaks.",
        {{"silent", watching_->silent.text}});
    return;
  }
  const job::TargetNow& now = *watching_->now;
  announcer_.say(
      Event::watch, say::target_words(sheets_.run, watching_->target, now),
      {{"verdict", say::word(now.verdict)}, {"share", now.share}, {"share_sigma", now.share_sigma}});
}

std::optional<job::PlaceToWatch> WatchedChange::best_place(int order) const {
  std::vector<beam::Motions<double>> made;
  const auto move = move_to_make(order, made);
  if (!move || !survey_.no_fit().empty()) return std::nullopt;
  const auto best = job::place_to_watch(survey_.session(), *move, sheets_.kit);
  return best ? best.value() : std::nullopt;
}

}  // namespace hangtrue::daemon
