#include "firmware-host/page/content.hpp"

#include <algorithm>

#include "firmware-host/page/limits.hpp"
#include "firmware-host/page/server.hpp"
#include "firmware-host/page/url.hpp"

namespace hangtrue::page {

Reply file_reply(const Request& request) {
  const auto& all = assets();
  const auto asset =
      std::find_if(all.begin(), all.end(), [&](const Asset& one) { return one.path == request.path(); });
  if (asset == all.end())
    return say(404, "There is no " + in_quotes(request.path()) + " here; the page is at /.");
  if (!request.reads()) return only("GET, HEAD");
  const std::string tag = '"' + std::string(build()) + '"';
  Reply reply{200, {}, asset->type, {{"ETag", tag}, {"Cache-Control", "no-cache"}}};
  const std::string_view has = request.field("If-None-Match");
  if (has == "*" || has.find(tag) != has.npos) {
    reply.status = 304;
    return reply;
  }
  // Whether or not it is in Accept-Encoding: every browser takes it, and there is no other form.
  reply.more.emplace_back("Content-Encoding", "gzip");
  reply.file = asset->bytes;
  return reply;
}

std::string survey_of(std::string_view path) {
  constexpr std::string_view kBefore = "/record/", kAfter = ".txt";
  if (!path.starts_with(kBefore) || !path.ends_with(kAfter) || path.size() < kBefore.size() + kAfter.size())
    return {};
  path.remove_prefix(kBefore.size());
  path.remove_suffix(kAfter.size());
  const std::string name = unescaped(path).value_or("");
  const bool shown = std::none_of(name.begin(), name.end(), [](char one) {
    return static_cast<unsigned char>(one) < 0x20 || one == 0x7f || one == '/';
  });
  return shown && name.size() <= kLongestSurvey ? name : std::string();
}

}  // namespace hangtrue::page
