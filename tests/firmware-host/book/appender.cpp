// book_appender BOOK SEED [aside]: appends readings as fast as it can until it is killed, and writes each to standard output (number
// and value, 16 bytes) once append() has returned its number. With "aside" every reading is set aside in the same breath. A helper of the tests.
#include <unistd.h>

#include <cstdio>
#include <random>

#include "tests/firmware-host/book/scratch.hpp"

int main(int count, char** arguments) {
  using namespace hangtrue::book;
  if (count != 3 && count != 4) return 64;
  const bool aside = count == 4;
  auto book = Book::open(arguments[1]);
  if (!book.ok()) {
    std::fprintf(stderr, "%s\n", book.fault().says.c_str());
    return 1;
  }
  std::mt19937 random(static_cast<unsigned>(std::stoul(arguments[2])));
  std::optional<Number> survey;
  Number last = 3;  // of fill(), where it matters
  if (aside) survey = fill(book.value(), 0);
  for (;;) {
    const double value = std::uniform_real_distribution(-0.01, 0.01)(random);
    const Number next = last + 1;
    const std::vector<Entry> entries{{reading(value), survey}, {SetAside{next, "knocked"}, survey}};
    const auto number = book.value().append(std::span(entries).first(aside ? 2 : 1));
    if (!number.ok()) {
      std::fprintf(stderr, "%s\n", number.fault().says.c_str());
      return 2;
    }
    last = number.value() + (aside ? 1 : 0);
    const struct {
      Number number;
      double value;
    } acknowledged{number.value(), value};
    if (::write(STDOUT_FILENO, &acknowledged, sizeof acknowledged) != sizeof acknowledged) return 3;
  }
}
