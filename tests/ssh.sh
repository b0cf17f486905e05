#!/usr/bin/env bash
# job-parallel over ssh: two logins of this machine, to a server of the test's own on a port of
# 127.0.0.1, stand for two machines with a shared folder. The bytes are those of make. For `make
# check`: it needs sshd, which scripts/setup does not install, as that opens a machine to logins.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"
sshd=$(command -v sshd || command -v /usr/sbin/sshd)
if [ -z "$sshd" ] || ! have ssh || ! have parallel; then
    skip "by parallel over ssh" "no sshd (openssh-server), ssh or parallel"
    finish
fi

port=26822
ssh-keygen -q -t ed25519 -N '' -f host.key
ssh-keygen -q -t ed25519 -N '' -f user.key
cp user.key.pub authorized && chmod 600 authorized
cat >sshd.conf <<END
Port $port
ListenAddress 127.0.0.1
HostKey $T/host.key
PidFile $T/sshd.pid
AuthorizedKeysFile $T/authorized
StrictModes no
UsePAM no
PermitRootLogin prohibit-password
MaxStartups 100
END
for name in here there; do
    cat <<END
Host $name
    HostName 127.0.0.1
    Port $port
    User $(id -un)
    IdentityFile $T/user.key
    IdentitiesOnly yes
    UserKnownHostsFile $T/known
    StrictHostKeyChecking accept-new
    LogLevel ERROR
END
done >ssh.conf
[ "$(id -u)" -ne 0 ] || mkdir -p /run/sshd
"$sshd" -f "$T/sshd.conf" -E "$T/sshd.log" || {
    fail "the server begins" "$(cat sshd.log)"
    finish
}
trap 'kill "$(cat "$T/sshd.pid")" 2>/dev/null; rm -rf "$T"' EXIT
export PARALLEL_SSH="ssh -F $T/ssh.conf"

shoot plain emre lamin
undisturbed
cp -a plain job
check "by parallel on two hosts" carn-job --by parallel=1/here,1/there job
as_wanted "the same bytes"
grep -q 'Accepted publickey' sshd.log && pass "by logins" || fail "by logins" "$(cat sshd.log)"

# One host that cannot be reached: no success, and the next run heals it.
sed -i "/^Host there/,\$s/Port .*/Port 1/" ssh.conf
rm -rf job && cp -a plain job
got=0
carn-job --by parallel=1/there job >out 2>err || got=$?
if [ $got -eq 2 ] || sums job | cmp -s - want; then pass "a host that is not there: status 2, or all done here"; else fail "a host that is not there" "$got" "$(cat err)"; fi
check "the next run" carn-job --by parallel=1/here job
as_wanted "heals it"
finish
