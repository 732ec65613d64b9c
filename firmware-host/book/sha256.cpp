#include "firmware-host/book/sha256.hpp"

#include <openssl/evp.h>

#include <array>
#include <cstdlib>

namespace hangtrue::book {

std::string sha256(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned length = 0;
  // Fails only when the library itself cannot work; a record without hashes is worse than none.
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) != 1)
    std::abort();
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (unsigned i = 0; i < length; ++i) {
    text += kDigits[digest[i] >> 4];
    text += kDigits[digest[i] & 15];
  }
  return text;
}

}  // namespace hangtrue::book
