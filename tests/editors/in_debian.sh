#!/bin/sh
# Runs a command in a system that lives in a folder, in the same working directory and with the same paths to the repository and to /tmp.
# What is mounted is mounted for that command alone, and is gone with it.
# usage: in_debian.sh SYSTEM REPOSITORY TARGET COMMAND...
exec unshare --mount --propagation private sh -ec '
  system=$1 here=$PWD
  for folder in /tmp "$2" "$3"; do
    mkdir -p "$system$folder"
    mount --bind "$folder" "$system$folder"
  done
  for folder in /proc /dev; do
    mount --rbind "$folder" "$system$folder"
  done
  shift 3
  exec chroot "$system" env PATH="$PATH:/usr/local/sbin:/usr/sbin:/sbin" LANG=C.UTF-8 sh -c "cd \"\$0\" && exec \"\$@\"" "$here" "$@"
' sh "$@"
