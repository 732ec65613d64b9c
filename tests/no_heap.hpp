// no_heap.hpp: counts what reaches for the heap, so that a test can say "nothing did".
//
// Link no_heap.cpp into the test executable. It replaces malloc, calloc, realloc, aligned_alloc and
// posix_memalign of glibc (operator new ends in malloc). Under the address sanitizer, which has its own,
// nothing is counted and heap_is_counted() is false.
#pragma once

#include <cstddef>

namespace hangtrue::test {

/// Whether this build counts at all.
[[nodiscard]] bool heap_is_counted();

/// Allocations since the program began, of all threads.
[[nodiscard]] std::size_t heap_allocations();

}  // namespace hangtrue::test
