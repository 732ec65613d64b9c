# cmake --install: the command, what draws its documents, the daemon with its page and its service, demo sheets, manual pages,
# completions, schemas. Components are the packages (tools/packaging/packages.cmake).
include(GNUInstallDirs)
set(packaging ${CMAKE_CURRENT_LIST_DIR}/packaging)

# compressed(OUT files...): for a package as Debian wants them, the same bytes each time; else as they are.
set(compressed_dir ${CMAKE_BINARY_DIR}/compressed)
function(compressed out)
  set(list ${ARGN})
  if(HANGTRUE_PACKAGE)
    set(list)
    foreach(file ${ARGN})
      cmake_path(GET file FILENAME name)
      execute_process(COMMAND ${CMAKE_COMMAND} -E make_directory ${compressed_dir})
      execute_process(COMMAND gzip -9nc ${PROJECT_SOURCE_DIR}/${file} OUTPUT_FILE ${compressed_dir}/${name}.gz COMMAND_ERROR_IS_FATAL ANY)
      list(APPEND list ${compressed_dir}/${name}.gz)
    endforeach()
  endif()
  set(${out} ${list} PARENT_SCOPE)
endfunction()

compressed(pages_1 data/man/hangtrue.1)
compressed(pages_5 data/man/hangtrue-run-sheet.5 data/man/hangtrue-kit-sheet.5 data/man/hangtrue-readings.5)
compressed(pages_7 data/man/hangtrue-json.7)
compressed(pages_8 data/man/hangtrued.8)
compressed(changes data/changes.md)
set(changes FILES ${changes})
if(HANGTRUE_PACKAGE)  # as Debian calls it
  list(APPEND changes RENAME changelog.gz)
endif()

install(TARGETS hangtrue RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR} COMPONENT hangtrue)
install(DIRECTORY data/runs data/kits data/schemas DESTINATION ${CMAKE_INSTALL_DATADIR}/hangtrue COMPONENT hangtrue)
install(FILES README.md data/interfaces.md data/finding-values.md data/first-hour.md data/licences.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT hangtrue)
install(${changes} DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT hangtrue)
install(FILES ${pages_1} DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT hangtrue)
install(FILES ${pages_5} DESTINATION ${CMAKE_INSTALL_MANDIR}/man5 COMPONENT hangtrue)
install(FILES ${pages_7} DESTINATION ${CMAKE_INSTALL_MANDIR}/man7 COMPONENT hangtrue)

install(TARGETS hangtrue-report RUNTIME DESTINATION ${CMAKE_INSTALL_LIBEXECDIR}/hangtrue COMPONENT report)

install(TARGETS hangtrued RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR} COMPONENT hangtrued)
install(FILES ${pages_8} DESTINATION ${CMAKE_INSTALL_MANDIR}/man8 COMPONENT hangtrued)
set(bindir ${CMAKE_INSTALL_FULL_BINDIR})
set(sysconfdir ${CMAKE_INSTALL_FULL_SYSCONFDIR})
configure_file(${packaging}/hangtrued@.service.in ${CMAKE_BINARY_DIR}/hangtrued@.service @ONLY)
# systemd and udev look below lib, never below lib/ARCHITECTURE.
install(FILES ${CMAKE_BINARY_DIR}/hangtrued@.service DESTINATION lib/systemd/system COMPONENT hangtrued)
install(FILES ${packaging}/70-hangtrue.rules DESTINATION lib/udev/rules.d COMPONENT hangtrued)
install(FILES ${packaging}/hangtrued.sysusers DESTINATION lib/sysusers.d RENAME hangtrued.conf COMPONENT hangtrued)

# bash looks for a file by the name of the program.
foreach(program hangtrue hangtrued)
  install(FILES data/completions/hangtrue.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME ${program}
          COMPONENT ${program})
endforeach()

install(FILES data/completions/hangtrue.zsh DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions RENAME _hangtrue
        COMPONENT hangtrue)
install(FILES data/completions/hangtrue.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d COMPONENT hangtrue)

# What Debian wants of each package.
if(HANGTRUE_PACKAGE)
  string(TIMESTAMP date "%a, %d %b %Y %H:%M:%S +0000" UTC)  # SOURCE_DATE_EPOCH, where set
  set(version ${PROJECT_VERSION})
  foreach(each hangtrue:hangtrue hangtrued:hangtrued report:hangtrue-report development:libhangtrue-dev)
    string(REPLACE ":" ";" each ${each})
    list(GET each 0 component)
    list(GET each 1 package)
    set(folder ${CMAKE_BINARY_DIR}/compressed/${package})
    configure_file(${packaging}/changelog.in ${folder}/changelog.Debian @ONLY)
    execute_process(COMMAND gzip -9nf ${folder}/changelog.Debian COMMAND_ERROR_IS_FATAL ANY)
    install(FILES ${packaging}/copyright ${folder}/changelog.Debian.gz DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/${package}
            COMPONENT ${component})
    install(${changes} DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/${package} COMPONENT ${component})
  endforeach()
  install(FILES data/licences.md DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/hangtrued COMPONENT hangtrued)
  # The manual pages for a browser, by mandoc.
  foreach(page hangtrue.1 hangtrue-run-sheet.5 hangtrue-kit-sheet.5 hangtrue-readings.5 hangtrue-json.7 hangtrued.8)
    execute_process(COMMAND mandoc -Thtml -Oman=%N.%S.html ${PROJECT_SOURCE_DIR}/data/man/${page}
                    OUTPUT_FILE ${CMAKE_BINARY_DIR}/compressed/${page}.html COMMAND_ERROR_IS_FATAL ANY)
    install(FILES ${CMAKE_BINARY_DIR}/compressed/${page}.html DESTINATION ${CMAKE_INSTALL_DOCDIR}/html COMPONENT hangtrue)
  endforeach()
  include(${packaging}/packages.cmake)
endif()
