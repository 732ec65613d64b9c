# cmake --install: the command, the daemon with its page, demo sheets, manual pages, completions, schemas.
include(GNUInstallDirs)
install(TARGETS hangtrue hangtrued RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(DIRECTORY data/runs data/kits data/schemas DESTINATION ${CMAKE_INSTALL_DATADIR}/hangtrue)
install(FILES README.md data/interfaces.md data/changes.md data/licences.md DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES data/man/hangtrue.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES data/man/hangtrue-run-sheet.5 data/man/hangtrue-kit-sheet.5 DESTINATION ${CMAKE_INSTALL_MANDIR}/man5)
install(FILES data/man/hangtrued.8 DESTINATION ${CMAKE_INSTALL_MANDIR}/man8)
# bash looks for a file by the name of the program.
foreach(program hangtrue hangtrued)
  install(FILES data/completions/hangtrue.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME ${program})
endforeach()
