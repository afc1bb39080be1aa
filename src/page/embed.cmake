# SPDX-License-Identifier: GPL-3.0-or-later
# Writes OUTPUT, a C file with the table of asset.h, of all files below FOLDER (which need not be there).
# Usage: cmake -DFOLDER=... -DOUTPUT=... -P embed.cmake
file(GLOB_RECURSE files RELATIVE ${FOLDER} ${FOLDER}/*)
list(SORT files)
set(types html "text/html\; charset=utf-8" css "text/css\; charset=utf-8" js "text/javascript\; charset=utf-8"
  svg "image/svg+xml" png "image/png" ico "image/x-icon" woff2 "font/woff2" json "application/json"
  txt "text/plain\; charset=utf-8" part none)
set(number 0)
set(arrays)
set(rows)
foreach(file IN LISTS files)
  string(REGEX REPLACE ".*\\." "" ending "${file}")
  list(FIND types "${ending}" at)
  if(at LESS 0)
    message(FATAL_ERROR "${FOLDER}/${file}: the server has no type for such a file; see embed.cmake")
  endif()
  math(EXPR at "${at} + 1")
  list(GET types ${at} type)
  if(type STREQUAL "none")
    set(type) # not served
  endif()
  file(READ ${FOLDER}/${file} hex HEX)
  string(LENGTH "${hex}" length)
  math(EXPR size "${length} / 2")
  string(REGEX REPLACE "(..)" "\\\\x\\1" bytes "${hex}")
  # Lines of 24 bytes: compilers bound the length of one.
  string(REGEX REPLACE "((\\\\x..)(\\\\x..)?(\\\\x..)?(\\\\x..)?(\\\\x..)?(\\\\x..)?(\\\\x..)?(\\\\x..)?)" "\\1\"\n    \"" bytes "${bytes}")
  string(APPEND arrays "static const char bytes_${number}[] =\n    \"${bytes}\";\n")
  string(APPEND rows "    {\"/${file}\", \"${type}\", bytes_${number}, ${size}},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE ${OUTPUT}.part "/* Made by embed.cmake. */\n#include \"page/asset.h\"\n\n${arrays}
const asset assets[] = {\n${rows}    {0, 0, 0, 0}};\nconst size_t asset_count = ${number};\n")
file(RENAME ${OUTPUT}.part ${OUTPUT})
