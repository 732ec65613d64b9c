// pairing.hpp: who may see and do anything when the page is served beyond this machine.
//
//   code    8 digits, drawn anew at each start, shown "4831 7702" where the daemon runs; typed once on each phone
//   once    another such code, shown when the person at the daemon asks for it; lets one phone in, within kOnceFor
//   token   what a paired phone carries in a cookie: a random id, the second at which it ends, and an HMAC-SHA-256 over both
//   key     32 bytes that sign the tokens, kept in a file, so that phones stay paired when the daemon is started anew;
//           deleting the file un-pairs them all from the next start on
//
// Limits  by address: kMostWrong wrong codes, then a wait of kFirstWait that doubles with each further one up to kLongestWait,
//         and one attempt after each; the right code begins again. What cannot be a code at all is no attempt. Nobody waits
//         for what came from another address.
//         In all: after kMostWrongInAll wrong ones the code no longer counts for addresses that have typed a wrong one; for
//         those that have not it counts up to kMostWrongByAll. Beyond that, and for whoever waits, the once-code remains:
//         it is looked at whatever came before, kMostWrongOnce times from one address and kMostWrongOnceByAll in all.
//         So guessing wins at most once in 10,000 times against the code of one start, and as seldom against a once-code;
//         from one address once in 2 million times within a day.
// Open    who has thousands of addresses in the same network (version 6 gives them to anybody) can still use up all of these
//         limits on purpose, and so keep phones from pairing; the daemon says that codes are being guessed.
// Not     against who listens: the page goes over plain HTTP, and the cookie with it; anyone on the same network who can listen
//         can take it and be that phone. A network for the site alone is what keeps others out.
// Source  HMAC: RFC 2104; SHA-256: FIPS 180-4; both, and all randomness, by OpenSSL's libcrypto.
// Pure    time and codes are passed in; only keep_key() touches a disk. No threads.
#pragma once

#include <array>
#include <chrono>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "core/quantity/result.hpp"
#include "firmware-host/page/limits.hpp"

namespace hangtrue::page {

/// 8 digits, each code as likely as any other.
[[nodiscard]] std::string draw_code();

class PairingCode {
 public:
  using Clock = std::chrono::steady_clock;
  enum class Verdict {
    right,
    wrong,     // 8 digits, but others; `wait` before the next
    no_code,   // not 8 digits: not counted
    too_soon,  // within this address's wait: not compared
    closed     // too many wrong ones in all: only a once-code helps
  };
  struct Outcome {
    Verdict verdict;
    std::chrono::seconds wait{0};  // of this address; rounded up
    bool once = false;             // right: by the once-code, which is used up
    bool last = false;             // the wrong one by which the code was closed to this address, or to all
  };

  explicit PairingCode(std::function<std::string()> draw = draw_code);
  /// `from`: the address. Spaces and dashes in what was typed do not matter.
  [[nodiscard]] Outcome attempt(std::string_view typed, const std::string& from, Clock::time_point now);
  /// A once-code, in the place of a former one. "4831 7702"
  [[nodiscard]] std::string open_once(Clock::time_point now);
  /// "4831 7702"
  [[nodiscard]] std::string shown() const;

 private:
  struct Typist {
    int wrong = 0;  // since the last right one
    std::optional<Clock::time_point> closed_until;
  };
  struct Once {
    std::string code;
    Clock::time_point until;
    std::map<std::string, int> wrong;  // by address
    int wrong_by_all = 0;
  };
  /// Whether it is the once-code, which it then no longer is. A wrong one is counted against it.
  [[nodiscard]] bool is_once(const std::string& digits, const std::string& from, Clock::time_point now);
  [[nodiscard]] Outcome count_wrong(const std::string& from, Clock::time_point now);

  std::function<std::string()> draw_;
  std::string code_;
  std::map<std::string, Typist> typists_;  // who typed a wrong one; as many as wrong ones were counted
  int wrong_in_all_ = 0;
  std::optional<Once> once_;
};

/// What the pairing page says; whoever starts the server may say it in another language. In those with {} stands a time.
struct PairingWords {
  std::string language = "en";  // as BCP 47 has it
  std::string title = "Pair this phone", not_yet = "Not paired yet";
  std::string where =
      "The computer that runs hangtrue shows a pairing code of 8 digits. Type it here, once on each phone.";
  std::string code = "Pairing code", pair = "Pair", already = "This phone is paired already: open the page";
  std::string no_code = "A code has 8 digits. Type all of them.";
  std::string too_soon =
      "Too many wrong codes were typed. Wait {}, then try once more. Or have \"pair\" typed at the computer: "
      "it "
      "shows a code that counts once, at once.";
  std::string closed =
      "Too many wrong codes were typed, on other phones too. Have \"pair\" typed at the computer: it shows a "
      "code "
      "that counts once.";
  std::string wrong = "That was not the code. Look at the computer, and type it again.";
  std::string wrong_wait =
      "That was not the code. Wait {}, then try once more. Or have \"pair\" typed at the computer: it shows "
      "a code "
      "that counts once, at once.";
  std::string second = "second", seconds = "seconds", minute = "minute", minutes = "minutes";

  /// All but the language's name.
  [[nodiscard]] std::array<std::string*, 15> all() {
    return {&title,  &not_yet, &where,      &code,   &pair,    &already, &no_code, &too_soon,
            &closed, &wrong,   &wrong_wait, &second, &seconds, &minute,  &minutes};
  }
};

/// To the person who typed it; empty when it was right.
[[nodiscard]] std::string sentence(const PairingCode::Outcome& outcome, const PairingWords& words = {});

using Key = std::array<unsigned char, 32>;
[[nodiscard]] Key draw_key();

struct KeptKey {
  Key key;
  std::string trouble;  // a sentence: the key is not kept, phones pair anew at each start; empty: it is
};
/// Reads the key from its file, or makes both: mode 0600, written whole or not at all. A file that is damaged, another's, or
/// open to others is left as it is and not used.
[[nodiscard]] KeptKey keep_key(const std::string& path);

/// Of the cookie. Each key has its own, since cookies of all ports of a machine go together.
[[nodiscard]] std::string cookie_name(const Key& key);
[[nodiscard]] std::string make_token(const Key& key, std::chrono::sys_seconds now);
/// Signed with that key, and not past its end. A clock that was set back is no reason to refuse.
[[nodiscard]] bool token_holds(const Key& key, std::string_view token, std::chrono::sys_seconds now);

/// The page on which the code is typed, whole, without script, and its content security policy. `complaint`: plain text.
struct PairingPage {
  std::string html, policy;
};
[[nodiscard]] PairingPage pairing_page(std::string_view complaint, const PairingWords& words = {});

}  // namespace hangtrue::page
