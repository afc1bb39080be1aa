# SPDX-License-Identifier: GPL-3.0-or-later
# Bundles the live page from src/page/ui, in the build folder. Sets caber_page_folder, where its files are or
# will be (none without it), and caber_page_files, what they hang on. node and npm are needed for it alone.
set(CABER_PAGE "" CACHE PATH "A folder of the page's files, built elsewhere; none = build them here")
set(CABER_PAGE_BUILD AUTO CACHE STRING "build the page: ON, OFF, or AUTO: when node and npm are there and no sanitiser is on")
set_property(CACHE CABER_PAGE_BUILD PROPERTY STRINGS AUTO ON OFF)

set(caber_page_folder ${PROJECT_BINARY_DIR}/page/built)
set(caber_page_files)
set(ui ${PROJECT_SOURCE_DIR}/src/page/ui)
set(work ${PROJECT_BINARY_DIR}/page/ui)

# Fetches what package-lock.json names, once for each of its contents. Sets page_ready.
function(page_fetch)
  file(SHA256 ${ui}/package-lock.json want)
  set(want "${want} ${CABER_TESTS}")
  set(page_ready ON PARENT_SCOPE)
  if(EXISTS ${work}/fetched)
    file(READ ${work}/fetched have)
    if(have STREQUAL want)
      return()
    endif()
  endif()
  message(STATUS "Fetching what the page is built with (npm ci)")
  file(REMOVE ${work}/fetched)
  file(COPY ${ui}/package.json ${ui}/package-lock.json DESTINATION ${work})
  set(without --omit=dev)
  if(CABER_TESTS)
    set(without)
  endif()
  # Twice: of a fetch that fails or hangs, another seldom does.
  foreach(attempt 1 2)
    execute_process(COMMAND ${CABER_NPM} ci --ignore-scripts --no-audit --no-fund --prefer-offline ${without}
      WORKING_DIRECTORY ${work} RESULT_VARIABLE status OUTPUT_QUIET ERROR_VARIABLE said TIMEOUT 90)
    if(status EQUAL 0)
      file(WRITE ${work}/fetched "${want}")
      return()
    endif()
  endforeach()
  set(page_ready OFF PARENT_SCOPE)
  if(CABER_PAGE_BUILD STREQUAL "AUTO")
    message(STATUS "npm could not fetch what the page is built with: everything but the page is built")
  else()
    message(FATAL_ERROR "npm ci in ${work} failed (${status}):\n${said}")
  endif()
endfunction()

set(page_ready OFF)
if(CABER_PAGE)
  if(NOT IS_DIRECTORY ${CABER_PAGE})
    message(FATAL_ERROR "CABER_PAGE is '${CABER_PAGE}', which is no folder (-UCABER_PAGE forgets it)")
  endif()
  set(caber_page_folder ${CABER_PAGE})
  file(GLOB_RECURSE caber_page_files CONFIGURE_DEPENDS ${CABER_PAGE}/*)
elseif(CABER_PAGE_BUILD STREQUAL "AUTO" AND NOT CABER_KIND MATCHES "release|debug")
  # The sanitisers look at the server, which needs no page.
elseif(CABER_PAGE_BUILD)
  find_program(CABER_NODE node)
  find_program(CABER_NPM npm)
  if(CABER_NODE AND CABER_NPM)
    page_fetch()
  elseif(CABER_PAGE_BUILD STREQUAL "AUTO")
    message(STATUS "node and npm are not installed: everything but the page of caber serve is built")
  else()
    message(FATAL_ERROR "CABER_PAGE_BUILD is ON, but node or npm is not installed")
  endif()
endif()

if(page_ready)
  file(GLOB_RECURSE page_sources CONFIGURE_DEPENDS RELATIVE ${ui} ${ui}/src/*.ts ${ui}/src/*.css)
  list(APPEND page_sources build.mjs index.html report.html style.css report.css tsconfig.json)
  set(copied)
  foreach(source IN LISTS page_sources)
    add_custom_command(OUTPUT ${work}/${source}
      COMMAND ${CMAKE_COMMAND} -E copy ${ui}/${source} ${work}/${source}
      DEPENDS ${ui}/${source} COMMENT "" VERBATIM)
    list(APPEND copied ${work}/${source})
  endforeach()
  # A source that has gone must not be bundled from an old copy: nothing would name it.
  set(caber_page_files ${PROJECT_BINARY_DIR}/page/bundled)
  add_custom_command(OUTPUT ${caber_page_files}
    COMMAND ${CABER_NODE} ${work}/build.mjs ${caber_page_folder}
    COMMAND ${CMAKE_COMMAND} -E touch ${caber_page_files}
    DEPENDS ${copied} ${work}/fetched COMMENT "Bundling the page" VERBATIM)
else()
  # What an earlier configuration has bundled does not count.
  if(NOT CABER_PAGE)
    file(REMOVE_RECURSE ${caber_page_folder})
  endif()
endif()
