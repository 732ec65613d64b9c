// The shipped daemon with sixteen instruments: its share of one processor, and its memory after a million samples.
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/wire/xdr.hpp"
#include "tests/benchmark/side_by_side.hpp"
#include "tools/rehearsal/pseudo_terminal.hpp"

namespace hangtrue::bench {
namespace {

using Clock = std::chrono::steady_clock;
constexpr int kInstruments = 16, kValuesALine = 3;

/// The daemon, its sheets, its book and the instruments' ends of its lines, in a directory of their own.
class Site {
 public:
  Site() {
    std::string pattern = (std::filesystem::temp_directory_path() / "hangtrue-bench-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary directory");
    directory_ = pattern;
    std::ofstream kit(directory_ / "kit.toml");
    for (int i = 0; i < kInstruments; ++i) {
      const std::filesystem::path port = directory_ / ("port" + std::to_string(i));
      terminals_.push_back(std::make_unique<rehearsal::PseudoTerminal>(port));
      kit << "[[instrument]]\nname = \"level " << i << "\"\nport = \"" << port.string()
          << "\"\nbaud = 115200\nspeaks = \"xdr\"\n";
      for (const auto& [name, gives] : {std::pair{"PITCH", "slope"}, {"ROLL", "roll"}})
        kit << "[[instrument.channel]]\ntransducer = \"" << name << "\"\ngives = \"" << gives
            << "\"\nsigma = \"0.02 mm/m\"\nstation = \"" << 200 * i << " mm\"\n";
      kit << "[[instrument.channel]]\ntransducer = \"TEMP\"\ngives = \"temperature\"\n";
    }
    kit.close();
    book_ = directory_ / "B.levelbook";
    const std::string run = HANGTRUE_DATA_DIR "/runs/reading-room-bridge-shelf.toml",
                      sheet = directory_ / "kit.toml";
    std::fflush(nullptr);  // or the child would print it again
    id_ = ::fork();
    if (id_ != 0) return;
    if (std::freopen("/dev/null", "w", stdout) == nullptr ||
        std::freopen("/dev/null", "w", stderr) == nullptr)
      ::_exit(126);
    ::execl(HANGTRUED, HANGTRUED, run.c_str(), sheet.c_str(), "--book", book_.c_str(), nullptr);
    ::_exit(127);
  }
  ~Site() {
    ::kill(id_, SIGTERM);
    ::waitpid(id_, nullptr, 0);
    std::error_code ignored;  // a leftover in the temporary directory harms nobody
    std::filesystem::remove_all(directory_, ignored);
  }
  Site(const Site&) = delete;
  Site& operator=(const Site&) = delete;

  /// Every instrument sends so many lines a second for so long.
  void play(double seconds, int lines_a_second) {
    const auto began = Clock::now();
    for (int line = 0; line < int(seconds * lines_a_second); ++line) {
      std::this_thread::sleep_until(began +
                                    std::chrono::duration_cast<Clock::duration>(
                                        std::chrono::duration<double>(double(line) / lines_a_second)));
      for (int i = 0; i < kInstruments; ++i) {
        std::array<char, 80> body{};
        std::snprintf(body.data(), body.size(), "YXXDR,A,%.4f,D,PITCH,A,%.4f,D,ROLL,C,%.2f,C,TEMP",
                      0.1 + 1e-4 * (line % 3), 0.2 - 1e-4 * (line % 2), 19.0 + 0.01 * (line % 5));
        std::array<char, 96> sentence{};
        std::snprintf(sentence.data(), sentence.size(), "$%s*%02X\r\n", body.data(),
                      unsigned(wire::checksum(body.data())));
        terminals_[std::size_t(i)]->write(sentence.data());
      }
    }
  }
  /// Raw values in the book so far, which is read while the daemon writes in it.
  [[nodiscard]] std::size_t samples_in_book() const {
    std::this_thread::sleep_for(std::chrono::milliseconds(1500));  // they are written once a second
    const auto book = book::Book::open_to_read(book_);
    if (!book.ok()) throw std::runtime_error(book.fault().says);
    std::size_t count = 0;
    const auto surveys = book.value().surveys();
    for (const book::SurveyRecord& survey : surveys.value()) {
      const auto entries = book.value().entries(survey.number, {"samples"});
      for (const book::NumberedEntry& entry : entries.value())
        count += std::get<book::Samples>(entry.entry.content).values.size();
    }
    return count;
  }
  /// Of the daemon so far, user and system (proc(5), stat fields 14 and 15).
  [[nodiscard]] double processor_s() const {
    std::string stat;
    std::getline(std::ifstream("/proc/" + std::to_string(id_) + "/stat"), stat);
    std::istringstream fields(stat.substr(stat.rfind(')') + 2));
    std::string skipped;
    for (int field = 3; field < 14; ++field) fields >> skipped;
    double user = 0, system = 0;
    fields >> user >> system;
    return (user + system) / double(::sysconf(_SC_CLK_TCK));
  }
  /// Resident (proc(5), status VmRSS).
  [[nodiscard]] long memory_kB() const {
    std::ifstream status("/proc/" + std::to_string(id_) + "/status");
    for (std::string line; std::getline(status, line);)
      if (line.rfind("VmRSS:", 0) == 0) return std::stol(line.substr(6));
    return 0;
  }

 private:
  std::filesystem::path directory_;
  std::string book_;
  std::vector<std::unique_ptr<rehearsal::PseudoTerminal>> terminals_;
  pid_t id_ = -1;
};

std::string text(const char* format, double value) {
  std::array<char, 40> shown{};
  std::snprintf(shown.data(), shown.size(), format, value);
  return shown.data();
}

}  // namespace

void daemon() {
  print_heading(
      "Daemon: sixteen instruments on sixteen pseudo-terminals",
      {"The shipped hangtrued: lines, decoding, settling, raw samples into the book on disk once a second.",
       "Three values a line. Nothing beside it: the figures stand alone."});
  {
    Site site;
    site.play(2, 10);
    const double before = site.processor_s();
    constexpr double kSeconds = 20;
    site.play(kSeconds, 10);
    const double share = (site.processor_s() - before) / kSeconds;
    print_row({"10 lines a second each", text("%.2f %% of a core", 100 * share), "", "",
               std::to_string(site.samples_in_book()) + " in the book", "under 3 %", aim_if(share < 0.03)});
  }
  Site site;
  constexpr int kLinesASecond = 500;
  constexpr double kSamplesASecond = double(kInstruments) * kLinesASecond * kValuesALine;
  site.play(1e5 / kSamplesASecond, kLinesASecond);
  const long early = site.memory_kB();
  site.play(9e5 / kSamplesASecond, kLinesASecond);
  const long late = site.memory_kB();
  print_row({"memory, 1e6 samples", text("%.1f MB", double(late) / 1024),
             text("%.1f MB at 1e5", double(early) / 1024), "",
             std::to_string(site.samples_in_book()) + " in the book", "flat",
             aim_if(double(late) < 1.1 * double(early))});
}

}  // namespace hangtrue::bench
