# What CPack makes Debian packages of: a component each. hangtrue: the command; hangtrue-report: what draws documents;
# hangtrued: the daemon with its page, as a service. tools/package calls it.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME hangtrue)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "hangtrue maintainers <maintainers@hangtrue.invalid>")
set(CPACK_PACKAGE_VENDOR hangtrue)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_GROUPING IGNORE)
set(CPACK_COMPONENTS_ALL hangtrue hangtrued report development)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_RELEASE 1)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_COMPRESSION_TYPE xz)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)

set(this_version "${PROJECT_VERSION}-${CPACK_DEBIAN_PACKAGE_RELEASE}")
set(CPACK_DEBIAN_HANGTRUE_PACKAGE_NAME hangtrue)
set(CPACK_DEBIAN_HANGTRUE_PACKAGE_RECOMMENDS "hangtrued, hangtrue-report")
set(CPACK_DEBIAN_HANGTRUE_DESCRIPTION "level and sag of a suspended run: the command
Fits readings of inclinometers and laser distance meters along a suspended
built-in run to the shape that beam mechanics predicts, and says which shim or
turn goes where before the final bolts are tightened. Keeps and checks the
record, and months later says what moved. Reads shape, not strength.")

set(CPACK_DEBIAN_HANGTRUED_PACKAGE_NAME hangtrued)
set(CPACK_DEBIAN_HANGTRUED_PACKAGE_DEPENDS "systemd | systemd-standalone-sysusers")
set(CPACK_DEBIAN_HANGTRUED_PACKAGE_RECOMMENDS hangtrue)
set(CPACK_DEBIAN_HANGTRUED_PACKAGE_CONTROL_EXTRA
  "${CMAKE_CURRENT_LIST_DIR}/hangtrued/postinst;${CMAKE_CURRENT_LIST_DIR}/hangtrued/prerm;${CMAKE_CURRENT_LIST_DIR}/hangtrued/postrm")
set(CPACK_DEBIAN_HANGTRUED_DESCRIPTION "level and sag of a suspended run: the daemon and its page
Reads serial inclinometers and laser distance meters along a suspended run,
keeps every reading in a level book, and shows phones on the same network
where to stand, what was read, and the card of shims and turns. Runs as a
service of its own user, for this machine alone unless told otherwise.")

set(CPACK_DEBIAN_REPORT_PACKAGE_NAME hangtrue-report)
set(CPACK_DEBIAN_REPORT_PACKAGE_DEPENDS "hangtrue (= ${this_version}), fonts-open-sans, fonts-dejavu-core")
set(CPACK_DEBIAN_REPORT_DESCRIPTION "level and sag of a suspended run: documents
Draws the record as built, the shim card and the recheck from a level book, as
PDF, SVG or PNG. Apart from the command, which does without the libraries that
draw.")

set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libhangtrue-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS libeigen3-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SHLIBDEPS OFF)
set(CPACK_DEBIAN_DEVELOPMENT_DESCRIPTION "level and sag of a suspended run: the core for other programs
The mechanics, the fit of readings and the choice of shims as static libraries,
with headers for C++20 and a C interface (hangtrue.h) to the shape of a run and
its estimate from readings. CMake finds them: find_package(hangtrue).")
include(CPack)
