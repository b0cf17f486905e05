"""A job of many frames, each of a finished job's again and again under other names: for its report alone.
usage: multiply.py JOB TO FRAMES"""
import glob, os, re, shutil, sys
job, to, most = sys.argv[1], sys.argv[2], int(sys.argv[3])
shutil.copytree(job, to, copy_function=os.link, ignore=shutil.ignore_patterns("*.tsv", "*.html", "*.json"))
for path in glob.glob(job + "/**/*.tsv", recursive=True):
    shutil.copy(path, to + path[len(job):])
head, *rows = open(job + "/work/frames.tsv").read().splitlines()
groups = {path: open(path).readlines() for path in glob.glob(job + "/work/group/*/before.tsv")}
pictures = {}
for path in os.listdir(job + "/report/pictures"):
    pictures.setdefault(re.sub(r"\.(before|after)(\.face-\d+)?\.jpg$", "", path), []).append(path)
with open(to + "/work/frames.tsv", "a") as frames:
    for k in range(len(rows), most):
        row = rows[k % len(rows)].split("\t")
        row[head.split("\t").index("shows_card")] = "no"
        id, name, *rest = row
        new, new_id = f"{k}-{name}", f"{k}-{id}"
        frames.write("\t".join([new_id, new, *rest]) + "\n")
        os.link(f"{job}/frames/{name}", f"{to}/frames/{new}")
        for path in pictures.get(id, []):
            os.link(f"{job}/report/pictures/{path}", f"{to}/report/pictures/{k}-{path}")
        os.mkdir(f"{to}/work/frame/{new_id}")
        for path in glob.glob(f"{glob.escape(job + '/work/frame/' + id)}/*"):
            copy = f"{to}/work/frame/{new_id}/{os.path.basename(path)}"
            if not path.endswith(".tsv"):
                shutil.copy(path, copy)
                continue
            lines = open(path).readlines()
            with open(copy, "w") as file:
                file.writelines(new + line[len(name):] if line.startswith(name + "\t") else line for line in lines)
        for path, lines in groups.items():
            with open(to + path[len(job):], "a") as file:
                file.writelines(new + line[len(name):] for line in lines if line.startswith(name + "\t"))
