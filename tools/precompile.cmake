# With HANGTRUE_PRECOMPILE (tools/check): the headers of others that most files include are compiled once for each set of options. A file of ours
# must still name all it uses: builds without this option, and clang-tidy, see it alone.

# hangtrue_precompiled(NAME LIBRARIES libraries... HEADERS headers...): a library that holds nothing but the compiled headers.
function(hangtrue_precompiled name)
  cmake_parse_arguments(PARSE_ARGV 1 this "" "" "LIBRARIES;HEADERS;OPTIONS")
  if(NOT EXISTS ${CMAKE_BINARY_DIR}/${name}.cpp)  # written anew, it would be compiled anew, and all that reads it
    file(WRITE ${CMAKE_BINARY_DIR}/${name}.cpp "")
  endif()
  add_library(${name} OBJECT ${CMAKE_BINARY_DIR}/${name}.cpp)
  target_link_libraries(${name} PRIVATE ${this_LIBRARIES} hangtrue_warnings)
  target_compile_options(${name} PRIVATE ${this_OPTIONS})
  target_precompile_headers(${name} PRIVATE ${this_HEADERS})
endfunction()

set(standard <algorithm> <array> <chrono> <cmath> <cstdint> <filesystem> <fstream> <functional> <map> <memory> <optional> <random> <set>
             <span> <sstream> <string> <string_view> <variant> <vector>)
set(asio <boost/asio/any_io_executor.hpp> <boost/asio/awaitable.hpp> <boost/asio/co_spawn.hpp> <boost/asio/detached.hpp>
         <boost/asio/io_context.hpp> <boost/asio/post.hpp> <boost/asio/posix/stream_descriptor.hpp>
         <boost/asio/redirect_error.hpp> <boost/asio/steady_timer.hpp> <boost/asio/use_awaitable.hpp>)
hangtrue_precompiled(hangtrue_precompiled_host LIBRARIES Eigen3::Eigen nlohmann_json::nlohmann_json
                     HEADERS ${standard} <Eigen/Core> <nlohmann/json.hpp>)
hangtrue_precompiled(hangtrue_precompiled_net LIBRARIES Eigen3::Eigen nlohmann_json::nlohmann_json Boost::headers Threads::Threads
                     HEADERS ${standard} <Eigen/Core> <nlohmann/json.hpp> ${asio})
if(BUILD_TESTING)
  find_package(GTest REQUIRED)
  # Reading them costs as well, the more the larger: the core's tests read no JSON but their reference values'.
  hangtrue_precompiled(hangtrue_precompiled_core_tests LIBRARIES GTest::gmock OPTIONS -O1
                       HEADERS ${standard} <gmock/gmock.h> <gtest/gtest.h>)
  hangtrue_precompiled(hangtrue_precompiled_tests LIBRARIES nlohmann_json::nlohmann_json GTest::gmock
                       OPTIONS -O0
                       HEADERS ${standard} <nlohmann/json.hpp> <gmock/gmock.h> <gtest/gtest.h>)
endif()

# Whoever has options of their own (core, wire) cannot read what was compiled with others.
function(hangtrue_precompile_below directory)
  get_property(targets DIRECTORY ${directory} PROPERTY BUILDSYSTEM_TARGETS)
  foreach(target ${targets})
    get_target_property(type ${target} TYPE)
    get_target_property(options ${target} COMPILE_OPTIONS)
    if(NOT type MATCHES "STATIC_LIBRARY|EXECUTABLE" OR options MATCHES "-O3|-fno-|-fsanitize=null"
       OR target MATCHES "^hangtrue_(page_assets|benchmark)$")
      continue()
    endif()
    get_target_property(is_test ${target} HANGTRUE_IS_TEST)
    if(is_test AND options MATCHES "-O1")
      target_precompile_headers(${target} REUSE_FROM hangtrue_precompiled_core_tests)
    elseif(is_test)
      target_precompile_headers(${target} REUSE_FROM hangtrue_precompiled_tests)
    elseif(target MATCHES "serial|daemon|page")
      target_precompile_headers(${target} REUSE_FROM hangtrue_precompiled_net)
    else()
      target_precompile_headers(${target} REUSE_FROM hangtrue_precompiled_host)
    endif()
  endforeach()
  get_property(below DIRECTORY ${directory} PROPERTY SUBDIRECTORIES)
  foreach(one ${below})
    hangtrue_precompile_below(${one})
  endforeach()
endfunction()
hangtrue_precompile_below(${PROJECT_SOURCE_DIR})
