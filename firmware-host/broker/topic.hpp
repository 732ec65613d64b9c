// topic.hpp: a name of people's own as one level of a topic.
#pragma once

#include <string>
#include <string_view>

namespace hangtrue::broker {

/// What has a meaning in topics ('/', '+', '#'), what must not stand in them (control characters, non-characters of Unicode) and '%'
/// are written as %XX, their bytes in UTF-8; so are bytes that are no UTF-8. Two names never become one, but where they are the same in the
/// first kLongestLevel_bytes. An empty one is "%00".
/// Source: MQTT 5.0 (OASIS, 2019), sections 1.5.4 and 4.7; percent-encoding: RFC 3986, section 2.1.
[[nodiscard]] std::string topic_level(std::string_view name);

}  // namespace hangtrue::broker
