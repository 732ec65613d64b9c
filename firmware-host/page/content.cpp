#include "firmware-host/page/content.hpp"

#include <algorithm>
#include <cctype>

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

namespace {

/// What is between the two; empty: nothing, or they are not there.
std::string_view between(std::string_view path, std::string_view before, std::string_view after) {
  if (!path.starts_with(before) || !path.ends_with(after) || path.size() < before.size() + after.size())
    return {};
  return path.substr(before.size(), path.size() - before.size() - after.size());
}

/// Of a survey, as it stands in a path; empty: it cannot be one.
std::string name_in(std::string_view escaped) {
  const std::string name = unescaped(escaped).value_or("");
  const bool shown = std::none_of(name.begin(), name.end(), [](char one) {
    return static_cast<unsigned char>(one) < 0x20 || one == 0x7f || one == '/';
  });
  return shown && name.size() <= kLongestSurvey ? name : std::string();
}

}  // namespace

std::string survey_of(std::string_view path) { return name_in(between(path, "/record/", ".txt")); }

std::optional<Document> document_of(std::string_view path) {
  Document document;
  if (std::string_view both = between(path, "/print/recheck/", ".pdf"); !both.empty()) {
    const std::size_t slash = both.find('/');
    if (slash == both.npos) return std::nullopt;
    document = {Document::Kind::recheck, name_in(both.substr(slash + 1)), name_in(both.substr(0, slash))};
    if (document.from.empty()) return std::nullopt;
  } else if (const std::string_view card = between(path, "/print/card/", ".pdf"); !card.empty()) {
    document = {Document::Kind::card, name_in(card), ""};
  } else {
    document = {Document::Kind::record, name_in(between(path, "/print/record/", ".pdf")), ""};
  }
  return document.survey.empty() ? std::nullopt : std::optional(document);
}

std::string file_name(const Document& document) {
  std::string name = document.kind == Document::Kind::recheck ? "recheck-" + document.from + '-'
                     : document.kind == Document::Kind::card  ? "card-"
                                                              : "record-";
  name += document.survey;
  for (char& one : name)
    if (!std::isalnum(static_cast<unsigned char>(one)) && one != '-' && one != '.') one = '_';
  return name + ".pdf";
}

}  // namespace hangtrue::page
