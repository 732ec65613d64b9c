# With HANGTRUE_UNITY (tools/check): up to six sources of a target are compiled as one, so that what they include is read once and what
# they instantiate is made once. A file of ours must still name all it uses: builds without this option see it alone. Two files of
# one target may not give one name to two things within their unnamed namespaces, or one of them is named here.
set(HANGTRUE_ALONE firmware-host/broker/connection.cpp firmware-host/job/sheet_changes.cpp firmware-host/say/predict.cpp firmware-host/say/recheck.cpp
                   tests/firmware-host/daemon/daemon_test.cpp tests/firmware-host/job/recheck_test.cpp)
function(hangtrue_unity_below directory)
  get_property(targets DIRECTORY ${directory} PROPERTY BUILDSYSTEM_TARGETS)
  foreach(target ${targets})
    get_target_property(type ${target} TYPE)
    # The core's sources stay apart: those of the node have no room for a mistake in what another file lets them see. The sheets'
    # readers each have short words of their own for the same steps.
    if(type MATCHES "STATIC_LIBRARY|EXECUTABLE" AND NOT directory MATCHES "/(core|wire|sheet|node)(/|$)")
      set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE 6)
      set_source_files_properties(${alone} TARGET_DIRECTORY ${target} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
    endif()
  endforeach()
  get_property(below DIRECTORY ${directory} PROPERTY SUBDIRECTORIES)
  foreach(one ${below})
    hangtrue_unity_below(${one})
  endforeach()
endfunction()
list(TRANSFORM HANGTRUE_ALONE PREPEND ${PROJECT_SOURCE_DIR}/ OUTPUT_VARIABLE alone)
hangtrue_unity_below(${PROJECT_SOURCE_DIR})
