#include "tools/rehearsal/rehearsal.hpp"

#include <poll.h>
#include <sys/eventfd.h>
#include <toml++/toml.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <fstream>
#include <stdexcept>
#include <system_error>

namespace hangtrue::rehearsal {

namespace {

std::filesystem::path fresh_directory() {
  std::string name = (std::filesystem::temp_directory_path() / "hangtrue-rehearsal-XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr) {
    throw std::system_error(errno, std::generic_category(), "making a directory for the rehearsal");
  }
  return name;
}

/// Letters and digits of a name, for a file.
std::string file_name(const std::string& name, std::size_t index) {
  std::string made = "line-" + std::to_string(index + 1) + "-";
  for (const char c : name) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
    made += plain ? c : '-';
  }
  return made;
}

double bits_per_byte(const sheet::KitInstrument& kit) {
  return 9 + (kit.parity == sheet::Parity::none ? 0 : 1) + kit.stop_bits;
}

/// The kit sheet as it stands, but with these ports.
void write_kit_with_ports(const std::string& kit_file, const std::vector<std::filesystem::path>& ports,
                          const std::filesystem::path& out_path) {
  toml::table kit;
  try {
    kit = toml::parse_file(kit_file);
  } catch (const toml::parse_error& error) {
    throw std::invalid_argument(kit_file + ": " + std::string(error.description()));
  }
  toml::array* const instruments = kit["instrument"].as_array();
  if (instruments == nullptr || instruments->size() != ports.size()) {
    throw std::invalid_argument(kit_file + ": changed since it was read");
  }
  for (std::size_t i = 0; i < ports.size(); ++i) {
    instruments->get(i)->as_table()->insert_or_assign("port", ports[i].string());
  }
  std::ofstream out(out_path);
  out << "# Made for a rehearsal: simulated instruments.\n" << kit << '\n';
  out.close();
  if (!out) throw std::system_error(errno, std::generic_category(), "writing " + out_path.string());
}

}  // namespace

Rehearsal::Rehearsal(const sheet::RunSheet& run, const sheet::KitSheet& kit, Options options)
    : options_(std::move(options)),
      own_directory_(options_.directory.empty()),
      truth_(run, kit, options_.stage, options_.seed),
      began_(std::chrono::steady_clock::now()) {
  for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
    instruments_.push_back(
        make_instrument(truth_, kit, i, options_.seed * 1000 + i, options_.faults, options_.handling_s));
  }
  waker_ = ::eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
  if (waker_ < 0) throw std::system_error(errno, std::generic_category(), "making an eventfd");
  try {
    if (own_directory_) options_.directory = fresh_directory();
    make_ports(kit);
    kit_path_ = options_.directory / "kit.toml";
    write_kit_with_ports(kit.file, links_, kit_path_);
  } catch (...) {
    if (own_directory_ && !options_.directory.empty()) std::filesystem::remove_all(options_.directory);
    ::close(waker_);
    throw;
  }
}

void Rehearsal::make_ports(const sheet::KitSheet& kit) {
  for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
    const std::string& path = kit.instruments[i].port;
    const auto shared = std::find_if(ports_.begin(), ports_.end(), [&](const Port& port) {
      return kit.instruments[port.instruments.front()].port == path;
    });
    Port& port = shared != ports_.end() ? *shared : ports_.emplace_back();
    if (port.link.empty()) {
      port.link = options_.directory / file_name(kit.instruments[i].name, i);
      port.terminal = std::make_unique<PseudoTerminal>(port.link);
      port.s_per_byte = bits_per_byte(kit.instruments[i]) / kit.instruments[i].baud;
    }
    port.instruments.push_back(i);
    links_.push_back(port.link);
  }
}

Rehearsal::~Rehearsal() {
  stop();
  ports_.clear();
  ::close(waker_);
  std::error_code ignored;  // nothing can be done about a file that will not go
  std::filesystem::remove(kit_path_, ignored);
  if (own_directory_) std::filesystem::remove_all(options_.directory, ignored);
}

double Rehearsal::now_s() const {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - began_).count();
}

void Rehearsal::start() {
  if (thread_.joinable()) return;
  stop_ = false;
  thread_ = std::thread([this] { play(); });
}

void Rehearsal::stop() {
  if (!thread_.joinable()) return;
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  wake();
  thread_.join();
}

void Rehearsal::place(const Stand& stand) {
  const std::lock_guard lock(mutex_);
  for (const auto& instrument : instruments_) instrument->place(stand, now_s());
}

Rehearsal::Port& Rehearsal::port_of(std::size_t instrument) {
  const auto is_it = [&](const Port& port) { return port.link == links_.at(instrument); };
  return *std::find_if(ports_.begin(), ports_.end(), is_it);
}

void Rehearsal::unplug(std::size_t instrument) {
  const std::lock_guard lock(mutex_);
  Port& port = port_of(instrument);
  if (port.terminal != nullptr) port.bytes_lost += port.terminal->bytes_lost();
  port.terminal.reset();
  wake();  // a terminal that is being waited on hangs up only then
}

void Rehearsal::plug_in(std::size_t instrument) {
  const std::lock_guard lock(mutex_);
  Port& port = port_of(instrument);
  if (port.terminal == nullptr) port.terminal = std::make_unique<PseudoTerminal>(port.link);
  wake();
}

void Rehearsal::hush(bool quiet) {
  const std::lock_guard lock(mutex_);
  hushed_ = quiet;
  wake();
}

void Rehearsal::move(int support, const beam::Motions<double>& by) {
  const std::lock_guard lock(mutex_);
  truth_.move(support, by);
}

double Rehearsal::let_creep(double days) {
  const std::lock_guard lock(mutex_);
  return truth_.let_creep(days);
}

void Rehearsal::look_at(int stage) {
  const std::lock_guard lock(mutex_);
  truth_.look_at(stage);
}

int Rehearsal::support(const std::string& name) const {
  const int support = truth_.run().support(name);
  if (support < 0) throw std::invalid_argument("the run has no support \"" + name + '"');
  return support;
}

const std::string& Rehearsal::first_support() const {
  const sheet::RunSheet& run = truth_.run();
  std::size_t first = 0;
  for (std::size_t i = 1; i < run.beam_supports.size(); ++i)
    if (run.beam_supports[i].at_m < run.beam_supports[first].at_m) first = i;
  return run.supports.at(first).name;
}

void Rehearsal::visit(std::uint64_t visit, bool kit) {
  const std::lock_guard lock(mutex_);
  truth_.visit(visit, kit);
}

Rehearsal::Sent Rehearsal::sent(std::size_t instrument) const {
  const std::lock_guard lock(mutex_);
  const auto port = std::find_if(ports_.begin(), ports_.end(),
                                 [&](const Port& one) { return one.link == links_.at(instrument); });
  return {instruments_[instrument]->faults().messages, port->bytes,
          port->bytes_lost + (port->terminal != nullptr ? port->terminal->bytes_lost() : 0)};
}

bool Rehearsal::walks(std::size_t instrument) const {
  const auto& channels = kit(instrument).channels;
  return std::any_of(channels.begin(), channels.end(), [](const sheet::KitChannel& channel) {
    return is_measured_of_run(channel.gives) && !channel.station_m;
  });
}

FaultCounts Rehearsal::faults() const {
  const std::lock_guard lock(mutex_);
  FaultCounts sum;
  for (const auto& instrument : instruments_) sum += instrument->faults();
  return sum;
}

void Rehearsal::play() {
  using Clock = std::chrono::steady_clock;
  const auto period =
      std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(1 / options_.samples_per_s));
  std::unique_lock lock(mutex_);
  for (auto next = Clock::now(); !stop_;) {
    answer();
    if (Clock::now() >= next) {
      send_samples();
      next = std::max(next + period, Clock::now() - period);  // late by much: no rush to catch up
    }
    wait_until(next, lock);
  }
}

void Rehearsal::Port::write(std::string_view out) {
  if (terminal == nullptr) return;
  terminal->write(out);
  bytes += out.size();
}

void Rehearsal::send_samples() {
  for (Port& port : ports_) {
    if (now_s() < port.busy_until_s || hushed_) continue;
    port.busy_until_s = now_s();
    for (const std::size_t i : port.instruments) {
      const std::string bytes = instruments_[i]->sample(now_s());
      port.busy_until_s += port.s_per_byte * static_cast<double>(bytes.size());
      port.write(bytes);
    }
  }
}

void Rehearsal::answer() {
  for (Port& port : ports_) {
    const std::string heard = port.terminal != nullptr ? port.terminal->read() : std::string();
    if (heard.empty() || hushed_) continue;
    for (const std::size_t i : port.instruments) port.write(instruments_[i]->hear(heard, now_s()));
  }
}

void Rehearsal::wait_until(std::chrono::steady_clock::time_point then, std::unique_lock<std::mutex>& lock) {
  std::vector<pollfd> wanted = {{waker_, POLLIN, 0}};
  for (const Port& port : ports_)
    if (port.terminal != nullptr) wanted.push_back({port.terminal->descriptor(), POLLIN, 0});
  lock.unlock();
  const auto left_ns =
      std::max<std::int64_t>(0, std::chrono::nanoseconds(then - std::chrono::steady_clock::now()).count());
  const timespec left{left_ns / 1'000'000'000, left_ns % 1'000'000'000};
  (void)::ppoll(wanted.data(), wanted.size(), &left, nullptr);  // interrupted or not: the caller looks itself
  std::uint64_t woken = 0;
  (void)!::read(waker_, &woken, sizeof woken);  // fails where nobody called wake()
  lock.lock();
}

void Rehearsal::wake() {
  const std::uint64_t once = 1;
  (void)!::write(waker_, &once, sizeof once);  // fails only where it is awake many times over
}

}  // namespace hangtrue::rehearsal
