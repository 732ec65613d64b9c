#include "tools/rehearsal/rehearsal.hpp"

#include <toml++/toml.h>
#include <unistd.h>

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
    instruments_.emplace_back(truth_, kit, i, options_.seed * 1000 + i, options_.faults, options_.handling_s);
  }
  if (own_directory_) options_.directory = fresh_directory();
  try {
    for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
      ports_.push_back(options_.directory / file_name(kit.instruments[i].name, i));
      terminals_.push_back(std::make_unique<PseudoTerminal>(ports_.back()));
    }
    kit_path_ = options_.directory / "kit.toml";
    write_kit_with_ports(kit.file, ports_, kit_path_);
  } catch (...) {
    if (own_directory_) std::filesystem::remove_all(options_.directory);
    throw;
  }
}

Rehearsal::~Rehearsal() {
  stop();
  terminals_.clear();
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
  stopping_.notify_all();
  thread_.join();
}

void Rehearsal::place(const Stand& stand) {
  const std::lock_guard lock(mutex_);
  for (Instrument& instrument : instruments_) instrument.place(stand, now_s());
}

void Rehearsal::unplug(std::size_t instrument) {
  const std::lock_guard lock(mutex_);
  terminals_.at(instrument).reset();
}

void Rehearsal::plug_in(std::size_t instrument) {
  const std::lock_guard lock(mutex_);
  if (terminals_.at(instrument) == nullptr) {
    terminals_[instrument] = std::make_unique<PseudoTerminal>(ports_[instrument]);
  }
}

FaultCounts Rehearsal::faults() const {
  const std::lock_guard lock(mutex_);
  FaultCounts sum;
  for (const Instrument& instrument : instruments_) {
    sum.sentences += instrument.faults().sentences;
    sum.torn += instrument.faults().torn;
    sum.wrong_checksum += instrument.faults().wrong_checksum;
    sum.outliers += instrument.faults().outliers;
  }
  return sum;
}

void Rehearsal::play() {
  const auto period = std::chrono::duration_cast<std::chrono::steady_clock::duration>(
      std::chrono::duration<double>(1 / options_.samples_per_s));
  std::unique_lock lock(mutex_);
  for (auto next = std::chrono::steady_clock::now(); !stop_;) {
    for (std::size_t i = 0; i < instruments_.size(); ++i) {
      const std::string bytes = instruments_[i].sample(now_s());
      if (terminals_[i] != nullptr) terminals_[i]->write(bytes);
    }
    next = std::max(next + period,
                    std::chrono::steady_clock::now() - period);  // late by much: no rush to catch up
    stopping_.wait_until(lock, next, [this] { return stop_; });
  }
}

}  // namespace hangtrue::rehearsal
