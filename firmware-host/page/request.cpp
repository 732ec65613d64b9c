#include "firmware-host/page/request.hpp"

#include <algorithm>

namespace hangtrue::page {

bool same_name(std::string_view a, std::string_view b) {
  const auto lower = [](char one) { return one >= 'A' && one <= 'Z' ? static_cast<char>(one | 0x20) : one; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [&](char one, char other) { return lower(one) == lower(other); });
}

std::vector<std::string_view> Request::all(std::string_view name) const {
  std::vector<std::string_view> found;
  for (const auto& [each, value] : fields)
    if (same_name(each, name)) found.push_back(value);
  return found;
}

std::string_view Request::field(std::string_view name) const {
  const auto found = all(name);
  return found.empty() ? std::string_view() : found.front();
}

std::string in_quotes(std::string_view text) {
  std::string safe = "\"";
  for (const char one : text.substr(0, 60)) safe += one >= ' ' && one <= '~' ? one : '?';
  return safe + '"';
}

Reply say(int status, std::string sentence) { return {status, std::move(sentence) + '\n'}; }

Reply only(std::string_view methods) {
  Reply reply = say(405, "Here only " + std::string(methods) + " will do.");
  reply.more = {{"Allow", std::string(methods)}};
  return reply;
}

namespace {

/// ws: is said as such because older browsers' 'self' leaves it out.
std::string page_policy(std::string_view host) {
  std::string live;
  if (!host.empty() && host.front() != '[') live = " ws://" + std::string(host);
  return "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
         "manifest-src 'self'; connect-src 'self'" +
         live + "; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
}

}  // namespace

std::vector<std::pair<std::string_view, std::string>> header_of(const Reply& reply, std::string_view host,
                                                                bool on_loopback) {
  std::vector<std::pair<std::string_view, std::string>> fields;
  if (reply.status != 304) {
    fields.emplace_back("Content-Length", std::to_string(reply.body().size()));
    fields.emplace_back("Content-Type", reply.type);
  }
  fields.insert(fields.end(), reply.more.begin(), reply.more.end());
  // What depends on who asks is not kept anywhere; the page's own files say otherwise themselves.
  const bool kept = std::any_of(reply.more.begin(), reply.more.end(),
                                [](const auto& one) { return one.first == "Cache-Control"; });
  if (!kept) fields.emplace_back("Cache-Control", "no-store");
  fields.emplace_back("Content-Security-Policy", reply.policy.empty() ? page_policy(host) : reply.policy);
  // "no-referrer" would make a browser post the pairing page's form with Origin: null.
  fields.emplace_back("Referrer-Policy", reply.policy.empty() ? "no-referrer" : "same-origin");
  fields.emplace_back("X-Content-Type-Options", "nosniff");
  // Elsewhere, over plain HTTP, browsers ignore it with a complaint.
  if (on_loopback) fields.emplace_back("Cross-Origin-Opener-Policy", "same-origin");
  fields.emplace_back("Cross-Origin-Resource-Policy", "same-origin");
  return fields;
}

}  // namespace hangtrue::page
