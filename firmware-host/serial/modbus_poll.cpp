#include "firmware-host/serial/modbus_poll.hpp"

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <stdexcept>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace hangtrue::serial {

namespace net = boost::asio;
using wire::ModbusAnswer;
using wire::ModbusFault;

namespace {

bool have_alike(const std::vector<wire::ReadRequest>& requests) {
  for (std::size_t i = 0; i < requests.size(); ++i)
    for (std::size_t k = 0; k < i; ++k)
      if (requests[i].function == requests[k].function && requests[i].count == requests[k].count) return true;
  return false;
}

/// A read of another length than any of the requests has, in the place of the one at `from`.
wire::ReadRequest proof_of(const std::vector<wire::ReadRequest>& requests, std::size_t from) {
  wire::ReadRequest proof = requests[from];
  const auto is_taken = [&](int count) {
    return std::any_of(requests.begin(), requests.end(), [&](const wire::ReadRequest& each) {
      return each.function == proof.function && each.count == count;
    });
  };
  proof.count = 1;
  while (is_taken(proof.count)) ++proof.count;
  proof.first = std::min(proof.first, wire::kRegisters - proof.count);
  return proof;
}

/// Of two answers of one length, in units of their registers, which wrap.
long between(const std::vector<std::uint16_t>& one, const std::vector<std::uint16_t>& other) {
  long sum = 0;
  for (std::size_t i = 0; i < one.size() && i < other.size(); ++i)
    sum += std::abs(static_cast<std::int16_t>(static_cast<std::uint16_t>(one[i] - other[i])));
  return sum;
}

}  // namespace

std::string_view word(UnitState state) {
  switch (state) {
    case UnitState::not_asked:
      return "not asked";
    case UnitState::answering:
      return "answering";
    case UnitState::exception:
      return "exception";
    case UnitState::garbled:
      return "garbled";
    case UnitState::not_answering:
      return "not answering";
  }
  return "unknown";
}

std::shared_ptr<ModbusPoll> ModbusPoll::create(net::any_io_executor executor, Settings settings, Write write,
                                               OnRegisters on_registers, OnEvent on_event) {
  for (const PolledUnit& unit : settings.units)
    for (const wire::ReadRequest& request : unit.requests)
      if (!wire::read_request(request).ok())
        throw std::invalid_argument(unit.name + ": address " + std::to_string(request.address) +
                                    ", function " + std::to_string(request.function) + ", first register " +
                                    std::to_string(request.first) + ", " + std::to_string(request.count) +
                                    " registers: one unit (1 ... 247), function 3 or 4, at most " +
                                    std::to_string(wire::kMostRegisters) + " registers can be asked");
  return std::shared_ptr<ModbusPoll>(new ModbusPoll(std::move(executor), std::move(settings),
                                                    std::move(write), std::move(on_registers),
                                                    std::move(on_event)));
}

ModbusPoll::ModbusPoll(net::any_io_executor executor, Settings settings, Write write,
                       OnRegisters on_registers, OnEvent on_event)
    : settings_(std::move(settings)),
      write_(std::move(write)),
      on_registers_(std::move(on_registers)),
      on_event_(std::move(on_event)),
      timer_(executor) {
  for (PolledUnit& kit : settings_.units) {
    for (std::size_t request = 0; request < kit.requests.size(); ++request)
      items_.push_back({.unit = units_.size(), .request = request});
    const bool alike = have_alike(kit.requests);
    const std::size_t requests = kit.requests.size();
    if (alike) {
      kit.requests.push_back(proof_of(kit.requests, 0));
      items_.push_back({.unit = units_.size(), .request = requests});
    }
    units_.push_back({.kit = std::move(kit), .alike = alike});
    if (!alike) continue;
    units_.back().proof = items_.size() - 1;
    units_.back().last.resize(requests);
  }
  settings_.units.clear();
}

void ModbusPoll::start() {
  net::co_spawn(
      timer_.get_executor(), [self = shared_from_this()] { return self->poll(); },
      [](std::exception_ptr failure) {
        if (failure) std::rethrow_exception(failure);  // a defect of ours
      });
}

void ModbusPoll::stop() {
  stopped_ = true;
  timer_.cancel();
}

void ModbusPoll::opened() {
  if (open_) return;
  open_ = true;
  for (Item& item : items_)
    item = {.unit = item.unit,
            .request = item.request,
            .due = is_proof(item) ? Clock::time_point::max() : Clock::now()};
  for (Unit& unit : units_) {
    unit.told = {UnitState::not_asked, {}};
    if (!unit.alike) continue;
    unit.held.clear();
    for (auto& last : unit.last) last.clear();
    unit.jumps = 0;
    unit.doubted = true;
    unit.listened_to = false;
    unit.heard = Clock::now();
    unit.owes = 1;  // to whoever asked before
    unit.owed = unit.kit.requests.front();
    unit.late_answer.expect(unit.owed);
  }
  timer_.cancel();
}

void ModbusPoll::lost() {
  open_ = false;
  (void)answer_.finish();  // settle() sees that the line is gone
  timer_.cancel();
}

void ModbusPoll::bytes(std::string_view chunk) {
  last_byte_ = std::max(last_byte_, Clock::now());
  const bool waiting = answer_.state() == ModbusAnswer::State::need_more;
  for (std::size_t unit = 0; unit < units_.size(); ++unit)
    if (units_[unit].owes > 0 && !(waiting && unit == asked_unit_)) {
      const std::size_t used = hear_late(units_[unit], chunk);
      if (!waiting) late_bytes_ += used;  // otherwise answer_ counts them as another unit's
    }
  if (answer_.push(chunk) != ModbusAnswer::State::need_more && waiting) timer_.cancel();
}

/// Looks in the chunk for an answer that the unit owes; returns how many bytes of it belong to that answer.
std::size_t ModbusPoll::hear_late(Unit& unit, std::string_view chunk) {
  if (unit.late_answer.state() != ModbusAnswer::State::need_more) return 0;
  const ModbusAnswer::Counts& counts = unit.late_answer.counts();
  // A frame of another length or function is an answer of this unit too, and further answers may follow it.
  const auto of_unit = [&] {
    return counts.used + counts.dropped_as(ModbusFault::wrong_length) +
           counts.dropped_as(ModbusFault::other_function);
  };
  const std::uint64_t before = of_unit(), used_before = counts.used;
  (void)unit.late_answer.push(chunk);
  if (of_unit() == before) return 0;
  unit.late = unit.counts.asked > 0 && !unit.listened_to;
  unit.heard = Clock::now();
  unit.listened_to = false;
  if (!unit.doubted) --unit.owes;  // how many a doubted unit owes is not known
  if (unit.owes > 0) unit.late_answer.expect(unit.owed);
  timer_.cancel();  // it need not be waited for any longer
  return counts.used - used_before;
}

std::size_t ModbusPoll::under_way(std::size_t unit) const {
  const bool waits = unit == asked_unit_ && answer_.state() == ModbusAnswer::State::need_more;
  return units_.at(unit).held.size() + (waits ? 1 : 0);
}

UnitState ModbusPoll::state(std::size_t unit) const { return units_.at(unit).told.state; }
const UnitCounts& ModbusPoll::counts(std::size_t unit) const { return units_.at(unit).counts; }

std::uint64_t ModbusPoll::understood() const {
  const ModbusAnswer::Counts& counts = answer_.counts();
  return counts.used + counts.dropped_as(ModbusFault::echo) + counts.dropped_as(ModbusFault::other_unit) +
         late_bytes_;
}

net::awaitable<void> ModbusPoll::poll() {
  while (!stopped_) {
    const std::size_t item = open_ ? next() : kNone;
    if (item == kNone) {  // opened() ends the wait
      co_await wait_until(Clock::now() + std::chrono::hours(1));
      continue;
    }
    const Clock::time_point begin = silent_at(item);
    if (begin > Clock::now()) {
      co_await wait_until(begin);
      continue;  // bytes may have come, or the line gone
    }
    ask(item);
    while (answer_.state() == ModbusAnswer::State::need_more && !stopped_ && Clock::now() < deadline_)
      co_await wait_until(deadline_);  // bytes() or lost() end it
    if (!stopped_) settle(item);
  }
}

net::awaitable<void> ModbusPoll::wait_until(Clock::time_point time) {
  timer_.expires_at(time);
  boost::system::error_code ended;  // cancelled: the caller looks again at what has changed
  co_await timer_.async_wait(net::redirect_error(net::use_awaitable, ended));
}

/// The item that may begin first; kNone when there is none at all.
std::size_t ModbusPoll::next() const {
  std::size_t first = kNone;
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (first == kNone || may_begin(i) < may_begin(first)) first = i;
  return first;
}

ModbusPoll::Clock::time_point ModbusPoll::may_begin(std::size_t item) const {
  const Item& asked = items_[item];
  const Unit& unit = units_[asked.unit];
  if (unit.polled == item || unit.owes == 0) return asked.due;
  return std::max(asked.due, unit.heard + (unit.listened_to ? 2 : 1) * patience(unit));
}

/// How long an answer that is owed is waited for.
ModbusPoll::Clock::duration ModbusPoll::patience(const Unit& unit) const {
  return std::max<Clock::duration>(kLate * unit.kit.timeout, settings_.late_least);
}

/// When the item may begin: the line must have been silent long enough. Where it never falls silent, the request goes out
/// one timeout later all the same, so that the unit's state is told.
ModbusPoll::Clock::time_point ModbusPoll::silent_at(std::size_t item) const {
  const std::chrono::microseconds silence(
      wire::silence_us(static_cast<int>(settings_.baud), static_cast<int>(settings_.bits_per_character)));
  const Clock::time_point begin = may_begin(item);
  const Clock::time_point patience =
      std::max(begin, settled_) + silence + units_[items_[item].unit].kit.timeout;
  return std::max(begin, std::min(last_byte_ + silence, patience));
}

void ModbusPoll::ask(std::size_t item) {
  Item& asked = items_[item];
  Unit& unit = units_[asked.unit];
  const wire::ReadRequest& request = unit.kit.requests[asked.request];
  if (unit.polled != item) {  // whatever it owed has come, or had its time
    if (unit.owes > 0) unit.doubted = unit.alike && !unit.listened_to;
    if (unit.doubted) unit.held.clear();
    unit.listened_to = false;
    unit.owes = 0;
  }
  ++asked.attempts;
  unit.polled = item;
  asked_unit_ = asked.unit;
  ++unit.owes;
  ++unit.counts.asked;
  unit.heard = Clock::now();
  last_byte_ = unit.heard + on_the_wire(8);
  deadline_ = last_byte_ + unit.kit.timeout + on_the_wire(5 + 2 * static_cast<std::size_t>(request.count));
  answer_.expect(request);
  const auto frame = wire::read_request(request).value();  // create() has seen that there is one
  write_(std::string(frame.data(), frame.size()));
}

void ModbusPoll::settle(std::size_t item) {
  Item& asked = items_[item];
  settled_ = Clock::now();
  const ModbusAnswer::State state = answer_.finish();
  const bool has_answered =
      state == ModbusAnswer::State::registers || state == ModbusAnswer::State::exception;
  if (has_answered && units_[asked.unit].doubted) return listen(asked);
  if (state == ModbusAnswer::State::registers) return answered(asked);
  if (state == ModbusAnswer::State::exception) return refused(asked, answer_.exception_code());
  if (open_) return failed(asked, answer_.fault());
  ++units_[asked.unit].counts.failed;  // the line was lost: that says nothing of the unit
  units_[asked.unit].polled = kNone;
}

/// Takes the first answer of a doubted unit: it gives no value, and the unit is believed when nothing comes after it.
void ModbusPoll::listen(Item& item) {
  Unit& unit = units_[item.unit];
  ++(answer_.state() == ModbusAnswer::State::registers ? unit.counts.answered : unit.counts.exceptions);
  unit.listened_to = true;
  unit.heard = Clock::now();
  item.due = is_proof(item) ? Clock::time_point::max() : unit.heard;
  unit.owes = 1;
  unit.owed = unit.kit.requests[item.request];
  unit.late_answer.expect(unit.owed);
  unit.polled = kNone;
  item.attempts = 0;
}

void ModbusPoll::answered(Item& item) {
  Unit& unit = units_[item.unit];
  --unit.owes;
  unit.heard = Clock::now();
  ++unit.counts.answered;
  if (item.attempts <= 1) unit.late = false;
  item.pause = Clock::duration::zero();
  const bool proves = is_proof(item);
  item.due = proves ? Clock::time_point::max() : std::max(item.due + unit.kit.every, Clock::now());
  if (unit.alike && !proves) hold(item);
  end_poll(item, UnitState::answering, unit_words(item) + (unit.late ? late_words(unit) : " answers"));
  if (stopped_) return;
  if (proves)
    prove(unit, item.unit);
  else if (!unit.alike)
    on_registers_(item.unit, item.request, answer_.registers());
}

void ModbusPoll::refused(Item& item, int code) {
  Unit& unit = units_[item.unit];
  const bool refuses_another = std::any_of(items_.begin(), items_.end(), [&](const Item& other) {
    return other.unit == item.unit && &other != &item && other.state == UnitState::exception;
  });
  // To this request or to that other one: nobody knows.
  if (is_proof(item) && refuses_another) {
    ++unit.counts.exceptions;
    return out_of_step(item);
  }
  --unit.owes;
  unit.heard = Clock::now();
  ++unit.counts.exceptions;
  if (is_proof(item)) {  // as good as registers: it was this that was refused
    item.due = Clock::time_point::max();
    end_poll(item, UnitState::answering, unit_words(item) + " answers");
    if (!stopped_) prove(unit, item.unit);
    return;
  }
  item.pause = longer_pause(item);
  item.due = Clock::now() + item.pause;
  // Exception codes 1 to 3 are about what was asked for (Modbus application protocol V1.1b3, 7).
  end_poll(item, UnitState::exception,
           unit_words(item) + " refuses " + register_words(item) + ": " +
               std::string(wire::exception_name(code)) + " (exception " + std::to_string(code) + "); " +
               (code <= 3 ? "correct the registers in the kit sheet after the device's own list"
                          : "look at the device itself; it is asked again"));
}

bool ModbusPoll::is_proof(const Item& item) const {
  const std::size_t proof = units_[item.unit].proof;
  return proof != kNone && &items_[proof] == &item;
}

/// Until the proof, which is due now.
void ModbusPoll::hold(const Item& item) {
  Unit& unit = units_[item.unit];
  std::erase_if(unit.held, [&](const Held& held) { return held.request == item.request; });
  const auto registers = answer_.registers();
  unit.held.push_back({item.request, {registers.begin(), registers.end()}});
  Item& proof = items_[unit.proof];
  if (proof.due == Clock::time_point::max()) proof.due = Clock::now();
}

/// What was held back is in step with what was asked.
void ModbusPoll::prove(Unit& unit, std::size_t number) {
  const std::vector<Held> held = std::exchange(unit.held, {});
  if (have_jumped(unit, held) && ++unit.jumps <= kMostJumps) {
    unit.doubted = true;
    unit.listened_to = false;
    return;
  }
  unit.jumps = 0;
  for (const Held& each : held) unit.last[each.request] = each.registers;
  for (const Held& each : held) {
    if (stopped_) return;
    on_registers_(number, each.request, each.registers);
  }
}

bool ModbusPoll::have_jumped(const Unit& unit, const std::vector<Held>& held) {
  for (const Held& one : held)
    for (const Held& other : held) {
      const wire::ReadRequest &its = unit.kit.requests[one.request],
                              &others = unit.kit.requests[other.request];
      if (one.request >= other.request || its.function != others.function || its.count != others.count)
        continue;
      const auto &before = unit.last[one.request], &others_before = unit.last[other.request];
      if (before.empty() || others_before.empty()) continue;
      const long crossed = between(one.registers, others_before) + between(other.registers, before);
      const long moved = between(one.registers, before) + between(other.registers, others_before);
      if (moved >= kLeastJump && kNearer * crossed <= moved) return true;
    }
  return false;
}

/// An answer of another length, or a refusal that may be another's: what was held back may be out of step as well.
void ModbusPoll::out_of_step(Item& item) {
  Unit& unit = units_[item.unit];
  unit.held.clear();
  unit.doubted = true;
  unit.listened_to = false;
  unit.heard = Clock::now();
  unit.owed = unit.kit.requests[item.request];
  unit.late_answer.expect(unit.owed);
  item.pause = longer_pause(item);
  item.due = is_proof(item) ? Clock::time_point::max() : Clock::now() + item.pause;
  end_poll(
      item, UnitState::garbled,
      unit_words(item) +
          " answers with what was asked before, so nobody can tell which of its registers a value is of; "
          "connect it without the gateway between, or give its registers numbers that adjoin");
}

/// Some devices say nothing to what they do not have.
void ModbusPoll::try_another_proof(Item& item) {
  Unit& unit = units_[item.unit];
  wire::ReadRequest& proof = unit.kit.requests.back();
  std::vector<wire::ReadRequest> requests(unit.kit.requests.begin(), unit.kit.requests.end() - 1);
  std::size_t next = 0;
  while (next + 1 < requests.size() && proof_of(requests, next) != proof) ++next;
  proof = proof_of(requests, (next + 1) % requests.size());
}

void ModbusPoll::failed(Item& item, ModbusFault fault) {
  Unit& unit = units_[item.unit];
  ++unit.counts.failed;
  if (unit.alike && (fault == ModbusFault::wrong_length || fault == ModbusFault::other_function))
    return out_of_step(item);
  unit.owed = unit.kit.requests[item.request];
  unit.late_answer.expect(unit.owed);
  const bool whole_frame = fault == ModbusFault::wrong_crc || fault == ModbusFault::wrong_length ||
                           fault == ModbusFault::other_function;
  if (whole_frame) --unit.owes;
  item.due = Clock::now();
  const bool failed_before = item.pause > Clock::duration::zero();
  if (!failed_before && item.attempts <= unit.kit.retries) return;  // asked again

  item.pause = longer_pause(item);
  item.due += item.pause;
  if (whole_frame || fault == ModbusFault::noise || fault == ModbusFault::cut_short)
    return end_poll(
        item, UnitState::garbled,
        "what " + unit_words(item) + " answers is not understood (" + std::string(wire::name(fault)) +
            "); check the line's parity, its cable and shield, and that no two units have one address");
  if (is_proof(item)) {
    try_another_proof(item);
    return end_poll(
        item, UnitState::not_answering,
        unit_words(item) + " does not answer " + register_words(item) +
            ", by which it would be seen that its answers belong to what was asked; give its registers "
            "numbers that adjoin, or take the values of one instrument each");
  }
  const bool others_answer =
      failed_before && std::any_of(items_.begin(), items_.end(), [&](const Item& other) {
        return other.unit == item.unit && other.state == UnitState::answering && &other != &item;
      });
  end_poll(item, UnitState::not_answering,
           unit.late ? unit_words(item) + late_words(unit)
           : others_answer
               ? unit_words(item) + " does not answer for " + register_words(item) +
                     ", but for others; correct the registers in the kit sheet after the device's own list"
               : unit_words(item) +
                     " does not answer; check its power, its address, the line's baud and parity, "
                     "and that its two wires are not swapped");
}

/// Sets the item's state. The unit's state is the worst of its items', and is told where it is new.
void ModbusPoll::end_poll(Item& item, UnitState state, std::string sentence) {
  Unit& unit = units_[item.unit];
  unit.polled = kNone;
  item.attempts = 0;
  item.state = state;
  item.sentence = std::move(sentence);
  const Item* worst = &item;
  for (const Item& other : items_)
    if (other.unit == item.unit && other.state > worst->state) worst = &other;
  // That it answers is told once it is known to answer what was asked.
  const bool unproved = unit.proof != kNone && items_[unit.proof].state == UnitState::not_asked;
  if (unproved && worst->state == UnitState::answering) return;
  if (unit.told.state == worst->state && unit.told.sentence == worst->sentence) return;
  unit.told = {worst->state, worst->sentence};
  on_event_(item.unit, UnitEvent(unit.told));
}

ModbusPoll::Clock::duration ModbusPoll::longer_pause(const Item& item) const {
  const Clock::duration every = units_[item.unit].kit.every;
  if (item.pause == Clock::duration::zero()) return every;
  return std::max<Clock::duration>(every, std::min<Clock::duration>(2 * item.pause, settings_.longest_pause));
}

std::string ModbusPoll::late_words(const Unit& unit) const {
  return " answers, but later than its timeout of " + std::to_string(unit.kit.timeout.count()) +
         " ms; give it a longer one in the kit sheet";
}

std::string ModbusPoll::unit_words(const Item& item) const {
  const PolledUnit& kit = units_[item.unit].kit;
  return kit.name + " (unit " + std::to_string(kit.requests[item.request].address) + ")";
}

std::string ModbusPoll::register_words(const Item& item) const {
  const wire::ReadRequest& request = units_[item.unit].kit.requests[item.request];
  const std::string kind = request.function == 3 ? "holding" : "input";
  const std::string first = std::to_string(request.first);
  if (request.count == 1) return kind + " register " + first;
  return kind + " registers " + first + " to " + std::to_string(request.first + request.count - 1);
}

ModbusPoll::Clock::duration ModbusPoll::on_the_wire(std::size_t characters) const {
  return std::chrono::microseconds(characters * settings_.bits_per_character * 1'000'000 /
                                   std::max(settings_.baud, 1u));
}

}  // namespace hangtrue::serial
