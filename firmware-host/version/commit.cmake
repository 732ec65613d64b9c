# cmake -DSOURCE=DIR -DTO=FILE -P commit.cmake: writes the commit of the sources into a C++ file, where it has changed.
execute_process(COMMAND git -C ${SOURCE} describe --always --dirty --abbrev=12 --exclude=*
                OUTPUT_VARIABLE commit OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET RESULT_VARIABLE code)
# A source archive inside another clone has that one's commit, which is none of its own.
if(NOT code EQUAL 0 OR NOT EXISTS ${SOURCE}/.git)
  set(commit "")
  if(EXISTS ${SOURCE}/COMMIT)  # tools/package puts it into the archive
    file(STRINGS ${SOURCE}/COMMIT commit LIMIT_COUNT 1 REGEX "^[0-9a-f]+$")
  endif()
endif()
set(text "namespace hangtrue {\nextern const char* const kCommit;\nconst char* const kCommit = \"${commit}\";\n}  // namespace hangtrue\n")
set(was "")
if(EXISTS ${TO})
  file(READ ${TO} was)
endif()
if(NOT text STREQUAL was)
  file(WRITE ${TO} "${text}")
endif()
