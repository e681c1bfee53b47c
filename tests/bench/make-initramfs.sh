#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Builds the initramfs of the bench: busybox, the CAN tools, our programs with
# the libraries they need, and the cases.
#
# usage: make-initramfs.sh KERNEL-DIRECTORY BINARY-DIRECTORY SOURCE-DIRECTORY OUTPUT
set -euo pipefail
kernel=$1 binaries=$2 here=$3 output=$4
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT

# Copies a file to a place in the image, once.
put() {
	[ -e "$root/$2" ] && return
	mkdir -p "$root/$(dirname "$2")"
	cp -L "$1" "$root/$2"
}

# Copies a program and the shared libraries it needs to /bin/NAME.
add_program() {
	local path library
	path=$(command -v "$1") || { echo "the program $1 is missing" >&2; exit 1; }
	put "$path" "bin/${2:-$(basename "$1")}"
	{ ldd "$path" 2>/dev/null || true; } | { grep -o '/[^ ]*' || true; } | while read -r library; do
		put "$library" "$library"
	done
}

mkdir -p "$root"/{proc,sys,dev,tmp,modules,bench,etc}
put /bin/busybox bin/busybox
for program in bash setpriv candump cansend cangen canplayer zstd tmux curl \
	mke2fs e2fsck; do add_program "$program"; done
ln -s zstd "$root/bin/zstdcat"
add_program ip ip.iproute2 # busybox has an ip of its own that knows no CAN
for program in cli/nodoff daemon/nodoffd tests/bench/try-to-send \
	tests/bench/read-interface tests/bench/serial-adapter; do
	add_program "$binaries/$program"
done
put /lib/terminfo/s/screen lib/terminfo/s/screen
mkdir -p "$root/usr/lib/locale"
cp -r /usr/lib/locale/C.utf8 "$root/usr/lib/locale/" # for tmux
printf 'root:x:0:0::/:/bin/sh\nnodoff:x:900:900::/:/bin/sh\n' > "$root/etc/passwd"
printf 'root:x:0:\nnodoff:x:900:\n' > "$root/etc/group"
cp "$kernel"/modules/*.ko "$root/modules/"
cp -r "$here/cases" "$here/guest.sh" "$here/words.sh" "$here/../../captures/healthy" "$root/bench/"
cp "$here/init.sh" "$root/init"
chmod +x "$root/init"
chmod -R go+rX "$root" # not every case is root
(cd "$root" && find . | cpio -o -H newc --quiet) > "$output"
