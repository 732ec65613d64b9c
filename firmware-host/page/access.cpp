#include "firmware-host/page/access.hpp"

#include <algorithm>
#include <chrono>

#include "firmware-host/page/limits.hpp"
#include "firmware-host/page/url.hpp"

namespace hangtrue::page {

namespace {

std::chrono::sys_seconds now() {
  return std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
}

Reply page_with_code(int status, std::string_view complaint, const PairingWords& words) {
  PairingPage page = pairing_page(complaint, words);
  return {status, std::move(page.html), "text/html; charset=utf-8", {}, std::move(page.policy)};
}

Reply see_page() {
  Reply reply{303};
  reply.more = {{"Location", "/"}};
  return reply;
}

Reply not_paired(int status) {
  return say(status, "This phone is not paired; open the page and type the code first.");
}

}  // namespace

std::string Access::open(std::uint16_t port, bool on_loopback, std::vector<std::string> own_names,
                         const std::string& key_path, PairingWords words) {
  words_ = std::move(words);
  port_ = port;
  on_loopback_ = on_loopback;
  if (on_loopback) return {};
  names_ = std::move(own_names);
  KeptKey kept = key_path.empty() ? KeptKey{draw_key(), {}} : keep_key(key_path);
  key_ = kept.key;
  cookie_ = cookie_name(key_);
  code_.emplace();
  return std::move(kept.trouble);
}

bool Access::is_own(std::string_view text) const {
  const std::optional<Host> host = parse_host(text);
  if (!host) return false;
  if (host->port ? *host->port != std::to_string(port_) : port_ != 80) return false;
  if (host->is_address) return !on_loopback_ || host->is_loopback;
  return same_name(host->name, "localhost") ||
         std::any_of(names_.begin(), names_.end(),
                     [&](const std::string& own) { return same_name(host->name, own); });
}

bool Access::is_paired(const Request& request) const {
  if (on_loopback_) return true;
  for (std::string_view rest : request.all("Cookie")) {
    while (!rest.empty()) {
      std::string_view one = rest.substr(0, rest.find(';'));
      rest.remove_prefix(std::min(rest.size(), one.size() + 1));
      while (one.starts_with(' ')) one.remove_prefix(1);
      if (!one.starts_with(cookie_) || one.substr(cookie_.size(), 1) != "=") continue;
      if (token_holds(key_, one.substr(cookie_.size() + 1), now())) return true;
    }
  }
  return false;
}

std::optional<Reply> Access::refuse(const Request& request, const std::string& address) const {
  const std::string_view host = request.field("Host"), path = request.path();
  if (request.all("Host").size() != 1) return say(400, "A request needs one Host, which this has not.");
  if (!is_own(host)) return say(421, "This is not " + in_quotes(host) + "; open " + address + " instead.");
  if (!path.starts_with('/'))
    return say(400, "The path begins with /, which " + in_quotes(path) + " does not.");

  const bool upgrade = !request.all("Upgrade").empty();
  const bool acts = upgrade || !request.reads();
  const std::string_view site = request.field("Sec-Fetch-Site");
  const bool follows_link = !acts && path == "/" && request.field("Sec-Fetch-Mode") == "navigate";
  if (!site.empty() && site != "same-origin" && site != "none" && !follows_link)
    return say(403, "Another site asked for this; open the page itself.");
  const auto origins = request.all("Origin");
  const std::string own = "http://" + std::string(host);
  if (acts && (origins.size() != 1 || origins.front() != own))
    return say(403, "This came from " + in_quotes(request.field("Origin")) + "; only the page itself, " +
                        own + ", may ask for it.");

  if (is_paired(request)) return std::nullopt;
  if (path == "/pair" && request.method == Request::Method::post && !upgrade) return std::nullopt;
  if (acts) return not_paired(403);
  if (path == "/") return page_with_code(200, "", words_);
  Reply reply = not_paired(401);
  reply.more = {{"WWW-Authenticate", "Pairing realm=\"hangtrue\""}};
  return reply;
}

Reply Access::pair(const Request& request, const std::string& from) {
  if (is_paired(request)) return see_page();
  using Verdict = PairingCode::Verdict;
  PairingCode::Outcome outcome;
  {
    const std::scoped_lock lock(mutex_);
    outcome = code_->attempt(form_field(request.body, "code"), from, PairingCode::Clock::now());
  }
  if (outcome.verdict == Verdict::right) {
    note_("a phone at " + from + " was paired" + (outcome.once ? ", by the code that counts once" : ""));
    Reply reply = see_page();
    reply.more.emplace_back("Set-Cookie", cookie_ + '=' + make_token(key_, now()) + "; Max-Age=" +
                                              std::to_string(std::chrono::seconds(kPairedFor).count()) +
                                              "; Path=/; HttpOnly; SameSite=Strict");
    return reply;
  }
  if (outcome.verdict == Verdict::no_code) return page_with_code(400, sentence(outcome, words_), words_);
  const std::string wait_s = std::to_string(outcome.wait.count());
  if (outcome.verdict == Verdict::wrong)
    note_("a wrong pairing code came from " + from +
          (outcome.wait.count() > 0 ? "; its next is looked at in " + wait_s + " s" : ""));
  if (outcome.last)
    note_("pairing codes are being guessed: " + std::to_string(kMostWrongInAll) +
          " wrong ones or more; where a phone is refused, pair lets one in");
  Reply reply =
      page_with_code(outcome.verdict == Verdict::wrong ? 403 : 429, sentence(outcome, words_), words_);
  if (outcome.wait.count() > 0) reply.more = {{"Retry-After", wait_s}};
  return reply;
}

std::string Access::open_once() {
  const std::scoped_lock lock(mutex_);
  return code_ ? code_->open_once(PairingCode::Clock::now()) : std::string();
}

std::string Access::code() const {
  const std::scoped_lock lock(mutex_);
  return code_ ? code_->shown() : std::string();
}

std::optional<Reply> refuse_upgrade(const Request& request, bool more_came, std::size_t phones) {
  if (request.method != Request::Method::get) return only("GET");
  if (!request.is_upgrade) {
    Reply reply = say(426, "This is for the page itself, by WebSocket; open / instead.");
    reply.more = {{"Upgrade", "websocket"}};
    return reply;
  }
  const std::string_view version = request.field("Sec-WebSocket-Version");
  if (version != "13") {
    Reply reply = say(426, "WebSocket of version " + in_quotes(version) + " is not spoken here, but 13.");
    reply.more = {{"Upgrade", "websocket"}, {"Sec-WebSocket-Version", "13"}};
    return reply;
  }
  constexpr std::size_t kKey = 24;  // 16 bytes in base64: RFC 6455, section 4.1
  const auto keys = request.all("Sec-WebSocket-Key");
  if (keys.size() != 1 || keys.front().size() != kKey)
    return say(400, "An upgrade needs one Sec-WebSocket-Key of 24 characters.");
  if (more_came) return say(400, "Frames may come once the upgrade was answered, not before.");
  if (phones >= kMostPhones)
    return say(503,
               std::to_string(kMostPhones) + " phones have the page open already; close it on one of them.");
  return std::nullopt;
}

}  // namespace hangtrue::page
