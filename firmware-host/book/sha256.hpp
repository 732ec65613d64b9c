// sha256.hpp: SHA-256 (FIPS 180-4) by OpenSSL's libcrypto, as 64 lower-case hexadecimal digits.
#pragma once

#include <string>
#include <string_view>

namespace hangtrue::book {

[[nodiscard]] std::string sha256(std::string_view bytes);

}  // namespace hangtrue::book
