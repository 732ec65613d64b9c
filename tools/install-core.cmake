# cmake --install of what other programs build with: find_package(hangtrue) gives hangtrue::core (C++) and hangtrue::c (C, hangtrue.h).
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)
set(to ${CMAKE_INSTALL_LIBDIR}/cmake/hangtrue)
set_target_properties(hangtrue_core PROPERTIES EXPORT_NAME core)
set_target_properties(hangtrue_c PROPERTIES EXPORT_NAME c)
install(TARGETS hangtrue_core hangtrue_c EXPORT hangtrue ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT development)
foreach(room quantity beam survey fit adjust)
  install(DIRECTORY core/${room} DESTINATION include/hangtrue/core COMPONENT development FILES_MATCHING PATTERN *.hpp)
endforeach()
install(FILES core/c/hangtrue.h DESTINATION include COMPONENT development)
install(FILES core/c/example.c DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/libhangtrue-dev/examples COMPONENT development)
install(EXPORT hangtrue NAMESPACE hangtrue:: FILE hangtrue-targets.cmake DESTINATION ${to} COMPONENT development)
configure_package_config_file(tools/packaging/hangtrue-config.cmake.in ${CMAKE_BINARY_DIR}/hangtrue-config.cmake INSTALL_DESTINATION ${to})
# Before 1.0 every minor version may break.
write_basic_package_version_file(${CMAKE_BINARY_DIR}/hangtrue-config-version.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_BINARY_DIR}/hangtrue-config.cmake ${CMAKE_BINARY_DIR}/hangtrue-config-version.cmake DESTINATION ${to}
        COMPONENT development)
