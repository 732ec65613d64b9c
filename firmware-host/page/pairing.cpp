#include "firmware-host/page/pairing.hpp"

#include <fcntl.h>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>
#include <openssl/rand.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <span>
#include <utility>

namespace hangtrue::page {
namespace {

constexpr std::size_t kDigits = 8;
constexpr std::string_view kHex = "0123456789abcdef";

void draw(std::span<unsigned char> bytes) {
  // Fails only when the library itself cannot work; a code or key that can be guessed is worse than none.
  if (RAND_bytes(bytes.data(), static_cast<int>(bytes.size())) != 1) std::abort();
}

std::string hex(std::span<const unsigned char> bytes) {
  std::string text;
  for (const unsigned char byte : bytes) {
    text += kHex[byte >> 4];
    text += kHex[byte & 15];
  }
  return text;
}

std::string sign(const Key& key, std::string_view text) {
  std::array<unsigned char, 32> mac{};
  unsigned length = 0;
  if (HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()),
           reinterpret_cast<const unsigned char*>(text.data()), text.size(), mac.data(), &length) == nullptr)
    std::abort();
  return hex(mac);
}

bool same(std::string_view one, std::string_view other) {
  return one.size() == other.size() && CRYPTO_memcmp(one.data(), other.data(), one.size()) == 0;
}

std::string minutes_or_seconds(std::chrono::seconds wait, const PairingWords& words) {
  const auto count = wait.count();
  if (count < 60) return std::to_string(count) + ' ' + (count == 1 ? words.second : words.seconds);
  const auto minutes = (count + 59) / 60;
  return std::to_string(minutes) + ' ' + (minutes == 1 ? words.minute : words.minutes);
}

/// In the place of {}.
std::string with_time(std::string sentence, const std::string& time) {
  const std::size_t at = sentence.find("{}");
  return at == std::string::npos ? sentence : sentence.replace(at, 2, time);
}

// ---- the key's file -------------------------------------------------------------------------------------------------

constexpr std::size_t kKeyFile = 2 * std::tuple_size_v<Key> + 1;  // hexadecimal, and a newline

struct Descriptor {
  int number;
  explicit Descriptor(int opened) : number(opened) {}
  ~Descriptor() {
    if (number >= 0) ::close(number);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
};

std::optional<Key> parse_key(std::string_view text) {
  if (text.size() != kKeyFile || text.back() != '\n') return std::nullopt;
  Key key{};
  for (std::size_t i = 0; i < key.size(); ++i) {
    const auto high = kHex.find(text[2 * i]), low = kHex.find(text[2 * i + 1]);
    if (high == kHex.npos || low == kHex.npos) return std::nullopt;
    key[i] = static_cast<unsigned char>(high << 4 | low);
  }
  return key;
}

KeptKey not_kept(const std::string& why) {
  return {draw_key(), why + "; until then each phone must be paired anew whenever the daemon is started"};
}

std::string octal(mode_t mode) {
  std::string text = "0000";
  for (std::size_t i = text.size(); i-- > 0; mode >>= 3) text[i] = static_cast<char>('0' + (mode & 7));
  return text;
}

/// Nothing: there is no such file.
std::optional<KeptKey> read_key(const std::string& path) {
  // No waiting for the other end of a pipe, no going where a link of somebody else's points.
  const Descriptor file(::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC));
  if (file.number < 0) {
    if (errno == ENOENT) return std::nullopt;
    return not_kept("cannot read the pairing key " + path + " (" + std::strerror(errno) +
                    "); it must be a file of this user's own");
  }
  struct stat kind {};
  if (::fstat(file.number, &kind) != 0 || !S_ISREG(kind.st_mode) || kind.st_uid != ::geteuid())
    return not_kept("the pairing key " + path + " is not a file of this user's own; take it away");
  if ((kind.st_mode & 077) != 0)
    return not_kept("the pairing key " + path + " is open to others (mode " + octal(kind.st_mode & 0777) +
                    "), who may have read it; take it away, and a new one is made");
  std::string text(kKeyFile + 1, '\0');
  const ssize_t size = ::read(file.number, text.data(), text.size());
  text.resize(size < 0 ? 0 : static_cast<std::size_t>(size));
  if (const auto key = parse_key(text)) return KeptKey{*key, {}};
  return not_kept("the pairing key " + path + " is damaged (" + std::to_string(kind.st_size) +
                  " bytes, where 65 with the right content were expected); take it away, and a new one is "
                  "made");
}

/// Under a name of its own first, then linked to its place, so that it is there whole or not at all. False with errno.
bool write_key(const std::string& path, const Key& key) {
  std::string beside = path + ".XXXXXX";
  const Descriptor file(::mkostemp(beside.data(), O_CLOEXEC));  // mode 0600, O_EXCL
  if (file.number < 0) return false;
  const std::string text = hex(key) + '\n';
  const bool done = ::write(file.number, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
                    ::fsync(file.number) == 0 && ::link(beside.c_str(), path.c_str()) == 0;
  const int error = errno;
  ::unlink(beside.c_str());
  errno = error;
  return done;
}

}  // namespace

// ---- the code -------------------------------------------------------------------------------------------------------

std::string draw_code() {
  constexpr std::uint32_t kCodes = 100'000'000;
  constexpr std::uint32_t kEven =
      UINT32_MAX / kCodes * kCodes;  // beyond it the low codes would come more often
  std::uint32_t number = UINT32_MAX;
  while (number >= kEven) {
    std::array<unsigned char, sizeof number> bytes{};
    draw(bytes);
    std::memcpy(&number, bytes.data(), sizeof number);
  }
  std::string code = std::to_string(number % kCodes);
  return std::string(kDigits - code.size(), '0') + code;
}

namespace {

std::string in_halves(const std::string& code) { return code.substr(0, 4) + ' ' + code.substr(4); }

/// What was typed, without spaces and dashes; nothing where it cannot be a code.
std::optional<std::string> digits_of(std::string_view typed) {
  std::string digits;
  for (const char one : typed) {
    if (one == ' ' || one == '-') continue;
    if (one < '0' || one > '9' || digits.size() == kDigits) return std::nullopt;
    digits += one;
  }
  return digits.size() == kDigits ? std::optional(digits) : std::nullopt;
}

}  // namespace

PairingCode::PairingCode(std::function<std::string()> draw) : draw_(std::move(draw)), code_(draw_()) {}

std::string PairingCode::shown() const { return in_halves(code_); }

std::string PairingCode::open_once(Clock::time_point now) {
  once_ = Once{draw_(), now + kOnceFor, {}, 0};
  return in_halves(once_->code);
}

PairingCode::Outcome PairingCode::attempt(std::string_view typed, const std::string& from,
                                          Clock::time_point now) {
  using std::chrono::seconds;
  const std::optional<std::string> digits = digits_of(typed);
  if (!digits) return {Verdict::no_code};
  if (is_once(*digits, from, now)) return {Verdict::right, {}, /*once=*/true};
  const auto typist = typists_.find(from);
  const bool is_known = typist != typists_.end();
  if (is_known && typist->second.closed_until && now < *typist->second.closed_until)
    return {Verdict::too_soon, std::chrono::ceil<seconds>(*typist->second.closed_until - now)};
  if (wrong_in_all_ >= (is_known ? kMostWrongInAll : kMostWrongByAll)) return {Verdict::closed};
  if (!same(*digits, code_)) return count_wrong(from, now);
  typists_.erase(from);
  return {Verdict::right};
}

bool PairingCode::is_once(const std::string& digits, const std::string& from, Clock::time_point now) {
  if (once_ && now >= once_->until) once_.reset();
  if (!once_ || once_->wrong_by_all >= kMostWrongOnceByAll) return false;
  int& wrong = once_->wrong[from];
  if (wrong >= kMostWrongOnce) return false;
  if (same(digits, once_->code)) {
    once_.reset();
    return true;
  }
  // Who types the code that always holds has not guessed at this one.
  if (!same(digits, code_)) {
    ++wrong;
    ++once_->wrong_by_all;
  }
  return false;
}

PairingCode::Outcome PairingCode::count_wrong(const std::string& from, Clock::time_point now) {
  Outcome outcome{Verdict::wrong};
  Typist& typist = typists_[from];
  typist.closed_until.reset();
  if (++typist.wrong >= kMostWrong) {
    outcome.wait = kFirstWait;
    for (int i = kMostWrong; i < typist.wrong && outcome.wait < kLongestWait; ++i) outcome.wait *= 2;
    outcome.wait = std::min(outcome.wait, kLongestWait);
    typist.closed_until = now + outcome.wait;
  }
  ++wrong_in_all_;
  outcome.last = wrong_in_all_ == kMostWrongInAll || wrong_in_all_ == kMostWrongByAll;
  return outcome;
}

std::string sentence(const PairingCode::Outcome& outcome, const PairingWords& words) {
  const std::string wait = minutes_or_seconds(outcome.wait, words);
  switch (outcome.verdict) {
    case PairingCode::Verdict::right:
      return {};
    case PairingCode::Verdict::no_code:
      return words.no_code;
    case PairingCode::Verdict::too_soon:
      return with_time(words.too_soon, wait);
    case PairingCode::Verdict::closed:
      return words.closed;
    case PairingCode::Verdict::wrong:
      break;
  }
  return outcome.wait.count() > 0 ? with_time(words.wrong_wait, wait) : words.wrong;
}

// ---- key and token --------------------------------------------------------------------------------------------------

Key draw_key() {
  Key key{};
  draw(key);
  return key;
}

KeptKey keep_key(const std::string& path) {
  if (auto kept = read_key(path)) return *std::move(kept);
  const Key key = draw_key();
  if (write_key(path, key)) return {key, {}};
  const int error = errno;
  if (error == EEXIST)
    if (auto kept = read_key(path)) return *std::move(kept);  // another daemon was faster
  return not_kept("cannot write the pairing key " + path + " (" + std::strerror(error) +
                  "); make its folder, or let this user write there");
}

std::string cookie_name(const Key& key) { return "hangtrue-" + sign(key, "cookie").substr(0, 8); }

namespace {
constexpr std::string_view kTokenKind =
    "hangtrue token 1 ";  // what else this key may sign one day is no token
}

std::string make_token(const Key& key, std::chrono::sys_seconds now) {
  std::array<unsigned char, 16> id{};
  draw(id);
  const std::string token = hex(id) + '.' + std::to_string((now + kPairedFor).time_since_epoch().count());
  return token + '.' + sign(key, std::string(kTokenKind) + token);
}

bool token_holds(const Key& key, std::string_view token, std::chrono::sys_seconds now) {
  const auto dot = token.rfind('.');
  if (dot == token.npos || token.size() > 200) return false;
  const std::string_view said = token.substr(0, dot);
  if (!same(token.substr(dot + 1), sign(key, std::string(kTokenKind) + std::string(said)))) return false;
  // Ours from here on, and so in our form.
  std::int64_t end = 0;
  std::from_chars(said.data() + said.find('.') + 1, said.data() + said.size(), end);
  return now.time_since_epoch().count() < end;
}

// ---- the page -------------------------------------------------------------------------------------------------------

namespace {

// Contrast at least 7:1 throughout, and 3:1 for the field's border.
constexpr std::string_view kStyle =
    ":root{color-scheme:light dark;--ink:#111;--ground:#fff;--deep:#0b3a66;--on-deep:#fff;--bad:#8c0c0c}"
    "@media(prefers-color-scheme:dark){:root{--ink:#f4f4f4;--ground:#111;--deep:#bfe0ff;--on-deep:#111;"
    "--bad:#ffb4ab}}"
    "*{box-sizing:border-box}"
    "body{margin:0 auto;max-width:30rem;padding:1rem;font:1.125rem/1.5 system-ui,sans-serif;"
    "color:var(--ink);background:var(--ground)}"
    "h1{font-size:1.5rem;line-height:1.25}"
    "label{display:block;font-weight:700;margin:1.5rem 0 .5rem}"
    "input,button{display:block;width:100%;min-height:4rem;font:inherit;font-size:1.75rem;"
    "border:2px solid var(--ink);border-radius:.5rem;color:var(--ink);background:var(--ground);"
    "padding:.5rem}"
    "input{letter-spacing:.1em;text-align:center}"
    "button{margin:1rem 0;font-size:1.25rem;font-weight:700;border-color:var(--deep);color:var(--on-deep);"
    "background:var(--deep)}"
    "a{display:flex;align-items:center;min-height:3.75rem;color:var(--deep)}"
    ":focus-visible{outline:4px solid var(--deep);outline-offset:2px}"
    ".bad{border-left:.5rem solid var(--bad);padding-left:.75rem;color:var(--bad);font-weight:700}";

std::string base64_of_sha256(std::string_view text) {
  std::array<unsigned char, 32> digest{};
  unsigned length = 0;
  if (EVP_Digest(text.data(), text.size(), digest.data(), &length, EVP_sha256(), nullptr) != 1) std::abort();
  std::array<unsigned char, 45> base64{};  // 44 digits and a NUL
  EVP_EncodeBlock(base64.data(), digest.data(), static_cast<int>(digest.size()));
  return {reinterpret_cast<const char*>(base64.data()), base64.size() - 1};
}

}  // namespace

PairingPage pairing_page(std::string_view complaint, const PairingWords& words) {
  std::string html = "<!doctype html><html lang=\"" + words.language +
                     "\"><head><meta charset=\"utf-8\">"
                     "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">"
                     "<link rel=\"icon\" href=\"data:,\"><title>";
  html += complaint.empty() ? words.title : words.not_yet;
  html += " - hangtrue</title><style>";
  html += kStyle;
  html += "</style></head><body><main><h1>" + words.title + "</h1><p id=\"where\">" + words.where + "</p>";
  if (!complaint.empty())
    html += "<p class=\"bad\" id=\"wrong\" role=\"alert\">" + std::string(complaint) + "</p>";
  html += "<form method=\"post\" action=\"/pair\"><label for=\"code\">" + words.code +
          "</label><input id=\"code\" name=\"code\" inputmode=\"numeric\" autocomplete=\"off\" required "
          "autofocus ";
  html += complaint.empty() ? "aria-describedby=\"where\">"
                            : "aria-describedby=\"wrong where\" aria-invalid=\"true\">";
  html += "<button>" + words.pair +
          "</button></form>"
          // A link from somewhere else does not bring the cookie along (SameSite=Strict); one from here does.
          "<p><a href=\"/\">" +
          words.already + "</a></p></main></body></html>\n";
  return {std::move(html),
          "default-src 'none'; style-src 'sha256-" + base64_of_sha256(kStyle) +
              "'; img-src data:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"};
}

}  // namespace hangtrue::page
