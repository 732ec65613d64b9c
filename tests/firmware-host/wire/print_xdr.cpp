// print_xdr: sentences on standard input, one a line; for each one line of its values, "type value name" with
// tabulators between, or "refused: why". For comparing with another decoder.
#include <cstdio>
#include <iostream>
#include <string>

#include "firmware-host/wire/xdr.hpp"

int main() {
  hangtrue::wire::XdrDecoder decoder;
  for (std::string sentence; std::getline(std::cin, sentence);) {
    const auto quads = decoder.decode(sentence);
    if (quads.ok()) {
      for (const auto& quad : quads.value())
        std::printf("%c\t%.17g\t%.*s\t", quad.type, quad.value, static_cast<int>(quad.name.size()),
                    quad.name.data());
    } else {
      const std::string_view why = name(quads.fault());
      std::printf("refused: %.*s", static_cast<int>(why.size()), why.data());
    }
    std::printf("\n");
  }
}
