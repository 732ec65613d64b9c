#include "firmware-host/page/url.hpp"

#include <algorithm>

#include <boost/url/authority_view.hpp>
#include <boost/url/parse.hpp>
#include <boost/url/parse_query.hpp>
#include <boost/url/pct_string_view.hpp>

// The library itself, compiled here and nowhere else.
#include <boost/url/src.hpp>

namespace hangtrue::page {

namespace urls = boost::urls;

std::optional<std::string> unescaped(std::string_view text) {
  const auto escaped = urls::make_pct_string_view(urls::string_view(text.data(), text.size()));
  if (!escaped) return std::nullopt;
  return escaped->decode();
}

std::string form_field(std::string_view form, std::string_view name) {
  std::string spaced(form);  // a space that was left as it is, as by hand, is a space too
  std::replace(spaced.begin(), spaced.end(), ' ', '+');
  const auto fields = urls::parse_query(spaced);
  if (!fields) return {};
  for (const urls::param_pct_view& field : *fields) {
    if (std::string_view(field.key.data(), field.key.size()) != name) continue;
    urls::encoding_opts as_form;
    as_form.space_as_plus = true;
    return field.value.decode(as_form);
  }
  return {};
}

std::optional<Host> parse_host(std::string_view text) {
  const auto parsed = urls::parse_authority(urls::string_view(text.data(), text.size()));
  if (!parsed || parsed->has_userinfo()) return std::nullopt;
  Host host;
  const auto name = parsed->encoded_host_address();
  host.name.assign(name.data(), name.size());
  switch (parsed->host_type()) {
    case urls::host_type::ipv4:
      host.is_address = true;
      host.is_loopback = parsed->host_ipv4_address().is_loopback();
      break;
    case urls::host_type::ipv6:
      host.is_address = true;
      host.is_loopback = parsed->host_ipv6_address().is_loopback();
      break;
    case urls::host_type::name:
      break;
    default:
      return std::nullopt;
  }
  if (parsed->has_port()) host.port.emplace(parsed->port().data(), parsed->port().size());
  return host;
}

}  // namespace hangtrue::page
