#include "tests/no_heap.hpp"

#include <atomic>
#include <cerrno>
#include <cstdlib>

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__) || !defined(__GLIBC__)
#define HANGTRUE_COUNTS_HEAP 0
#else
#define HANGTRUE_COUNTS_HEAP 1
#endif

namespace {
std::atomic<std::size_t> allocations{0};
}

#if HANGTRUE_COUNTS_HEAP
// glibc lets a program replace these, and keeps its own under the names with __libc_.
extern "C" {
void* __libc_malloc(std::size_t);
void* __libc_calloc(std::size_t, std::size_t);
void* __libc_realloc(void*, std::size_t);
void* __libc_memalign(std::size_t, std::size_t);

void* malloc(std::size_t size) {
  ++allocations;
  return __libc_malloc(size);
}
void* calloc(std::size_t count, std::size_t size) {
  ++allocations;
  return __libc_calloc(count, size);
}
void* realloc(void* old, std::size_t size) {
  ++allocations;
  return __libc_realloc(old, size);
}
void* aligned_alloc(std::size_t alignment, std::size_t size) {
  ++allocations;
  return __libc_memalign(alignment, size);
}
int posix_memalign(void** out, std::size_t alignment, std::size_t size) {
  ++allocations;
  *out = __libc_memalign(alignment, size);
  return *out == nullptr ? ENOMEM : 0;
}
}
#endif

namespace hangtrue::test {

bool heap_is_counted() { return HANGTRUE_COUNTS_HEAP != 0; }
std::size_t heap_allocations() { return allocations.load(); }

}  // namespace hangtrue::test
