// pseudo_terminal.hpp: the instrument's end of a serial line: a pseudo-terminal whose other end a daemon opens as a tty.
//
// Raw from the start (a fresh one is cooked, and would echo and turn carriage returns into line feeds).
// Loss   a serial line that nobody reads loses its bytes. So does this one: what is older than kUnread bytes goes, and is
//        counted, instead of being read as news much later. Bytes unread when it is destroyed are lost as well.
// Link   the terminal's own name (/dev/pts/N) goes to the next one that is opened; only the link is a lasting name.
// Errors std::system_error where the system gives no terminal or no link.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

namespace hangtrue::rehearsal {

class PseudoTerminal {
 public:
  static constexpr int kUnread = 2048;

  /// `link` is made to point at the terminal, replacing what it was (at one blow, for those who retry by name).
  explicit PseudoTerminal(std::filesystem::path link);
  /// Hangs up: readers see the end.
  ~PseudoTerminal();
  PseudoTerminal(const PseudoTerminal&) = delete;
  PseudoTerminal& operator=(const PseudoTerminal&) = delete;

  /// Never blocks.
  void write(std::string_view bytes);
  /// What the other end has written since; nothing when it has not. Never blocks.
  [[nodiscard]] std::string read();
  /// To wait on for what read() gives; not for reading it.
  [[nodiscard]] int descriptor() const { return ours_; }
  [[nodiscard]] const std::filesystem::path& link() const { return link_; }
  [[nodiscard]] std::uint64_t bytes_lost() const { return bytes_lost_; }

 private:
  std::filesystem::path link_;
  int ours_ = -1, theirs_ = -1;
  std::uint64_t bytes_lost_ = 0;
};

}  // namespace hangtrue::rehearsal
