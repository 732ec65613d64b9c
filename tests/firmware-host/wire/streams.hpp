// streams.hpp: the same stream of bytes, cut in many ways; what every decoder's tests share.
#pragma once

#include <cstddef>
#include <random>
#include <string>
#include <string_view>
#include <vector>

namespace hangtrue::test {

using Chunks = std::vector<std::string_view>;

/// In one piece, cut in two at every place, in equal pieces of 1 ... 20 bytes, and 50 times at random (fixed
/// seed). `bytes` must outlive the result.
inline std::vector<Chunks> every_chunking(std::string_view bytes) {
  std::vector<Chunks> all = {{bytes}};
  for (std::size_t cut = 0; cut <= bytes.size(); ++cut)
    all.push_back({bytes.substr(0, cut), bytes.substr(cut)});
  for (std::size_t size = 1; size <= 20; ++size) {
    Chunks& chunks = all.emplace_back();
    for (std::size_t at = 0; at < bytes.size(); at += size) chunks.push_back(bytes.substr(at, size));
  }
  std::mt19937 random(5);
  for (int i = 0; i < 50; ++i) {
    Chunks& chunks = all.emplace_back();
    for (std::size_t at = 0; at < bytes.size();) {
      chunks.push_back(bytes.substr(at, random() % 40));
      at += chunks.back().size();
    }
  }
  return all;
}

/// With one bit turned over; bits are counted from the first byte's lowest.
inline std::string with_flipped_bit(std::string bytes, std::size_t bit) {
  bytes[bit / 8] = static_cast<char>(static_cast<unsigned char>(bytes[bit / 8]) ^ (1u << bit % 8));
  return bytes;
}

}  // namespace hangtrue::test
